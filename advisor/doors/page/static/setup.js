"use strict";
// The zone of this device goes along, to be offered first; its position is asked for only when the button is pressed.
const zone = document.getElementById("browser-zone");
if (zone) zone.value = Intl.DateTimeFormat().resolvedOptions().timeZone || "";
const block = document.getElementById("by-position");
if (block && window.isSecureContext && navigator.geolocation) {
  const said = document.getElementById("position-said");
  block.hidden = false;
  document.getElementById("use-position").addEventListener("click", () => {
    said.textContent = "Asking this device where it is…";
    navigator.geolocation.getCurrentPosition(
      (found) => {
        const { latitude, longitude, accuracy } = found.coords;
        document.querySelector("input[name=at]").value = `${latitude.toFixed(4)}, ${longitude.toFixed(4)}`;
        said.textContent = `Filled in, to about ${Math.round(accuracy)} m. Stand in the garden for this to be right.`;
      },
      () => { said.textContent = "This device did not say where it is. Type the position instead."; },
      { enableHighAccuracy: false, timeout: 20000, maximumAge: 600000 },
    );
  });
}
