"""How gunicorn serves the adviser: ``gunicorn --config deploy/service/gunicorn.conf.py``.

Where it listens is said there with ``--bind``; how many workers in WEB_CONCURRENCY. A server must stand before it
(nginx.conf beside this): a worker's thread is held while a request comes in.
"""

import mmap
import os
import shutil
import tempfile
from pathlib import Path

MEMORY = "/dev/shm" if Path("/dev/shm").is_dir() else None
# Set before anything of the application is imported: the library that counts reads it then.
if "PROMETHEUS_MULTIPROC_DIR" not in os.environ:
    os.environ["PROMETHEUS_MULTIPROC_DIR"] = tempfile.mkdtemp(prefix="advisor-counts-", dir=MEMORY)
COUNTS = Path(os.environ["PROMETHEUS_MULTIPROC_DIR"])
RECENT_S = 600.0
ALL_LOOKED_AT = mmap.mmap(-1, 1)  # shared by the workers: whether every garden was looked at since the start

wsgi_app = "advisor.doors.wsgi:application()"
bind = "127.0.0.1:8470"
proc_name = "advisor"

# The rule base is read once, two seconds, and shared by the workers; one that dies is replaced at once.
preload_app = True
workers = int(os.environ.get("WEB_CONCURRENCY") or os.cpu_count() or 1)
worker_class = "gthread"
threads = 32  # as with the other server: more than one grower's requests can hold
# A worker that is silent this long is stuck. Its threads may take longer: another thread tells that it lives.
timeout = 60
graceful_timeout = 30
keepalive = 2
# 20,000 messages added 14 MB to two workers, 4 of them in the second half (DEVELOPERS, "Serving for years"). That is
# little and no end of it was seen, so a worker is replaced after some weeks; no two at one time.
max_requests = 50_000
max_requests_jitter = 10_000
worker_tmp_dir = MEMORY  # its sign of life is a file; on a slow disk that can stop a worker
control_socket_disable = True  # nothing of ours speaks to it

limit_request_line = 8190
limit_request_fields = 60
limit_request_field_size = 8190
# Who asked, and whether by https, the application itself reads, and only where ADVISOR_BEHIND_PROXY says so.
forwarded_allow_ips = ""

accesslog = None  # the application says each request in a line of its own, without the grower's words
errorlog = "-"
logconfig_dict = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"()": "advisor.doors.watching.Line"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"level": "WARNING", "handlers": ["stderr"]},
    "loggers": {"gunicorn.error": {"level": "INFO", "handlers": ["stderr"], "propagate": False}},
}


def on_starting(server):
    """Begin the counts afresh: files of an earlier run would be added to them."""
    COUNTS.mkdir(parents=True, exist_ok=True)
    for pattern in ("*.db", "stacks-*", "runs-*"):
        for path in COUNTS.glob(pattern):
            path.unlink()


def post_worker_init(worker):
    """Let the worker leave word of its end, answer what was kept and not answered, and work out what will be asked.

    What is left is looked for everywhere at the start, and until one worker has come through all gardens alive; else
    in those lately written to.
    """
    from advisor.doors import wsgi
    from advisor.doors.last_words import keep_last_words

    keep_last_words(COUNTS)
    if worker.age == 1 or (worker.age > worker.cfg.workers and ALL_LOOKED_AT[0] == 0):
        wsgi.answer_left(done=lambda: ALL_LOOKED_AT.seek(0) or ALL_LOOKED_AT.write_byte(1))
    elif worker.age > worker.cfg.workers:
        wsgi.answer_left(RECENT_S)
    wsgi.work_ahead()


def child_exit(server, worker):
    """Tell how a worker died, if it did, and keep its counts in one file for all of them."""
    from advisor.doors import wsgi
    from advisor.doors.watching import fold_counts

    fold_counts(worker.pid)
    wsgi.tell_of_end(COUNTS, worker.pid)


def on_exit(server):
    if COUNTS.name.startswith("advisor-counts-"):
        shutil.rmtree(COUNTS, ignore_errors=True)
