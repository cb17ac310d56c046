"""A record said back in one line, in words that would be heard as the same record again."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime

from advisor.facts import Value
from advisor.language.render import Speech, label, listed
from advisor.records.coordinates import Position


def said_back(kind: str, values: Mapping[str, Value], speech: Speech) -> str:
    """Return a record as a sentence without its full stop."""
    writer = _WRITERS.get(kind)
    if writer is None:
        told = ", ".join(f"{label(name)} {speech.value(name, value)}" for name, value in values.items())
        return f"{kind.replace('_', ' ')}: {told}"
    return writer(values, speech)


def _day(values: Mapping[str, Value], speech: Speech, name: str = "on") -> str:
    value = values.get(name)
    if isinstance(value, datetime):
        local = value.astimezone(speech.zone)
        return f"{speech.day(local.date())} {local:%H:%M}"
    return speech.day(value) if isinstance(value, date) else "no day told"


def _size(values: Mapping[str, Value], name: str, speech: Speech) -> str:
    """Return a value in the grower's units; inches to the half, as they were told."""
    if speech.units == "us" and name.endswith("_cm") and isinstance(values.get(name), int | float):
        return f"{round(2 * float(str(values[name])) / 2.54) / 2:g} in"
    return speech.value(name, values[name]) if name in values else ""


def _soil(values: Mapping[str, Value], speech: Speech) -> str:
    where = values.get("spot") or f"{values.get('plant')} pot"
    parts = [f"soil at {where} {_size(values, 'temp_c', speech)}"]
    if "depth_cm" in values:
        parts.append(f"{_size(values, 'depth_cm', speech)} deep")
    if "sky" in values:
        parts.append({"sun": "in the sun", "shade": "in the shade", "cloud": "cloudy"}[str(values["sky"])])
    return ", ".join([*parts, _day(values, speech, "at")])


def _air(values: Mapping[str, Value], speech: Speech) -> str:
    where = f" at {values['spot']}" if "spot" in values else ""
    return f"air{where} {_size(values, 'temp_c', speech)}, {_day(values, speech, 'at')}"


def _stage(values: Mapping[str, Value], speech: Speech) -> str:
    return f"{values['plant']} {values.get('words') or 'BBCH ' + str(values['bbch'])}, {_day(values, speech)}"


def _growth(values: Mapping[str, Value], speech: Speech) -> str:
    parts = []
    if "leaves" in values:
        parts.append("1 leaf" if values["leaves"] == 1 else f"{values['leaves']} leaves")
    if "node_buds" in values:
        count = {0: "no buds", 1: "one bud", 2: "two buds"}.get(
            int(str(values["node_buds"])), f"{values['node_buds']} buds"
        )
        parts.append(f"{count} at the nodes")
    if "shoot_cm" in values:
        parts.append(f"shoot {_size(values, 'shoot_cm', speech)}")
    if values.get("side_shoot"):
        parts.insert(0, "side shoot")
    return f"{values['plant']}: {', '.join(parts)}, {_day(values, speech)}"


def _cover(values: Mapping[str, Value], speech: Speech) -> str:
    if values["material"] == "bare":
        return f"{values['spot']} is bare since {_day(values, speech, 'put_on')}"
    deep = f", {_size(values, 'depth_cm', speech)}" if "depth_cm" in values else ""
    off = f", off on {_day(values, speech, 'taken_off')}" if "taken_off" in values else ""
    return f"{values['material']} on {values['spot']}{deep}, put on {_day(values, speech, 'put_on')}{off}"


def _move(values: Mapping[str, Value], speech: Speech) -> str:
    return f"{values['plant']} moved to {values['to_spot']}, {_day(values, speech)}"


def _work(values: Mapping[str, Value], speech: Speech) -> str:
    what = str(values.get("note") or values["what"]) if values["what"] == "other" else str(values["what"])
    return f"{what} {values.get('plant') or values.get('spot')}, {_day(values, speech)}"


def _look(values: Mapping[str, Value], speech: Speech) -> str:
    parts = []
    if "scratch" in values:
        where = {"all": "all the way", "tip": "at the tip", "middle": "in the middle", "base": "at the base"}
        at = f" {where[str(values['height'])]}" if "height" in values else ""
        parts.append(f"scratched, {values['scratch']}{at}")
    if "root_ball" in values:
        parts.append(f"root ball {values['root_ball']}")
    if "gnawed" in values:
        parts.append("gnawed" if values["gnawed"] else "not gnawed")
    if "shoots_from" in values:
        parts.append(f"shoots from {values['shoots_from']}")
    if "buds_cut" in values:
        dead = f", {values['buds_dead']} brown" if "buds_dead" in values else ""
        parts.append(f"cut open {values['buds_cut']} buds{dead}")
    return f"{values['plant']}: {', '.join(parts)}, {_day(values, speech)}"


def _harm(values: Mapping[str, Value], speech: Speech) -> str:
    cause = "something unknown" if values["cause"] == "unknown" else str(values["cause"])
    extent = {"slight": "a little hurt", "half": "half hurt", "most": "most of it hurt", "killed": "killed"}
    how = extent[str(values["extent"])] if "extent" in values else "hurt"
    return f"{values['plant']} {how} by {cause}, {_day(values, speech)}"


def _crop(values: Mapping[str, Value], speech: Speech) -> str:
    parts = ["first ripe fruit"] if values.get("first_ripe") else ["picked"]
    if "fruits" in values:
        parts.append(f"{values['fruits']} fruits")
    if "weight_kg" in values:
        parts.append(_size(values, "weight_kg", speech))
    if "crop" in values:
        parts.append("breba" if values["crop"] == "breba" else "main crop")
    return f"{' '.join(parts)} off the {values['plant']}, {_day(values, speech)}"


def _forecast(values: Mapping[str, Value], speech: Speech) -> str:
    parts = []
    if "min_c" in values:
        parts.append(f"low {_size(values, 'min_c', speech)}")
    if "max_c" in values:
        parts.append(f"high {_size(values, 'max_c', speech)}")
    parts += [str(values["sky"])] if "sky" in values else []
    parts += [f"wind {_size(values, 'wind_m_s', speech)}"] if "wind_m_s" in values else []
    return f"forecast for {_day(values, speech, 'for_day')}: {', '.join(parts)}"


def _evening(values: Mapping[str, Value], speech: Speech) -> str:
    dew = f", dew point {_size(values, 'dew_point_c', speech)}" if "dew_point_c" in values else ""
    return f"evening {_size(values, 'temp_c', speech)}{dew}, {_day(values, speech)}"


def _plant(values: Mapping[str, Value], speech: Speech) -> str:
    kind = speech.called.get(str(values["species"]), str(values["species"]))
    parts = [f"{values['cultivar']} {kind}" if "cultivar" in values else kind]
    if "rootstock" in values:
        own = str(values["rootstock"]).casefold() in ("own roots", "own")
        parts.append("on its own roots" if own else f"on {values['rootstock']} stock")
    if "pot_litres" in values:
        parts.append(f"in a pot of {_size(values, 'pot_litres', speech)}")
    elif "growing" in values:
        parts.append("in a pot" if values["growing"] == "pot" else "in the ground")
    parts += [f"at the {values['spot']}"] if "spot" in values else []
    parts += [f"planted {_day(values, speech, 'planted')}"] if "planted" in values else []
    return f"new plant {values['name']}: {', '.join(parts)}"


SIDES = {"N": "north", "NE": "north-east", "E": "east", "SE": "south-east", "S": "south", "SW": "south-west",
         "W": "west", "NW": "north-west"}  # fmt: skip


def _spot(values: Mapping[str, Value], speech: Speech) -> str:
    return f"new {_spot_again(values, speech)}"


def _spot_again(values: Mapping[str, Value], speech: Speech) -> str:
    parts = []
    for name, value in values.items():
        told = speech.value(name, value, article=False)
        match name:
            case "name" | "wall_side":
                continue
            case "aspect":
                parts.append(f"faces {SIDES[told]}" if told in SIDES else told)
            case "wall_material":
                parts.append(f"{_facing(values)}{told} wall")
            case "plantable":
                parts.append("open soil to plant in" if value else "no open soil to plant in")
            case "low_lying":
                parts.append("low-lying" if value else "not low-lying")
            case "under_cover":
                parts.append("under the open sky" if value == "none" else told)
            case "soil_texture":
                parts.append(told)
            case "drainage_cm_h":
                parts.append(f"drains {told}")
            case _:
                parts.append(f"{label(name)} {told}")
    if "wall_side" in values and "wall_material" not in values:
        parts.append(f"against a {_facing(values)}wall")
    return f"spot {values['name']}" + (f": {', '.join(parts)}" if parts else "")


def _facing(values: Mapping[str, Value]) -> str:
    """Return which way a spot's wall faces, where that is not the way that the spot faces."""
    side = str(values.get("wall_side", ""))
    return f"{SIDES[side]}-facing " if side and side != values.get("aspect") else ""


def _place(values: Mapping[str, Value], speech: Speech) -> str:
    parts = [f"place {values['name']}"]
    if isinstance(lat := values.get("latitude_deg"), int | float) and isinstance(
        lon := values.get("longitude_deg"), int | float
    ):
        parts.append(str(Position(lat, lon)))
    parts += [f"{_size(values, 'elevation_m', speech)} above the sea"] if "elevation_m" in values else []
    parts.append(f"clock of {str(values['time_zone']).replace('_', ' ')}")
    parts.append("US units" if values["units"] == "us" else "metric units")
    for name, when in (("usual_last_frost", "last"), ("usual_first_frost", "first")):
        parts += [f"usual {when} frost {_day_of_year(str(values[name]), speech)}"] if name in values else []
    return ", ".join(parts)


def _day_of_year(month_day: str, speech: Speech) -> str:
    return speech.day(date.fromisoformat(f"2024-{month_day}")).removesuffix(" 2024")


_WRITERS = {
    "soil_reading": _soil, "weather_hour": _air, "stage": _stage, "growth": _growth, "cover": _cover, "move": _move,
    "work": _work, "inspection": _look, "harm": _harm, "crop": _crop, "forecast_day": _forecast, "evening": _evening,
    "plant": _plant, "spot": _spot, "spot_again": _spot_again, "place": _place,
}  # fmt: skip


def all_said_back(records: list[tuple[str, Mapping[str, Value]]], speech: Speech) -> str:
    """Return several records as lines; many moves or works alike are said in one."""
    alike: dict[tuple[object, ...], list[str]] = {}
    first: dict[tuple[object, ...], tuple[str, Mapping[str, Value]]] = {}
    for kind, values in records:
        key = (kind, *sorted((name, str(value)) for name, value in values.items() if name != "plant"))
        alike.setdefault(key, []).append(str(values.get("plant", "")))
        first.setdefault(key, (kind, values))
    lines = []
    for group, plants in alike.items():
        kind, values = first[group]
        if len(plants) > 1 and all(plants):
            values = {**values, "plant": listed(plants)}
        lines.append(said_back(kind, values, speech))
    return "\n".join(f"  {line}" for line in lines)
