#!/bin/sh
# Called by gammu-smsd for each text message that came in (RunOnReceive):
#
#   hook.sh PYTHON SETTINGS FILE...
#
# The daemon waits for this and has closed every descriptor, so: open them, hand over, leave. Where that fails, the
# files stay in the daemon's inbox, and "advisor bridge run" finds them there some minutes later.
exec </dev/null >/dev/null 2>&1
python=$1 settings=$2
shift 2
"$python" -m advisor.doors.bridge_command take --settings "$settings" "$@" && exit 0
logger -t advisor-bridge "a text message was not handed over; it stays in the inbox until it is found there"
exit 1
