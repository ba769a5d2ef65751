"""Runs a program within limits and says what it took.

    measured.py REPORT ADDRESS_SPACE_MB SECONDS PROGRAM ARG...

REPORT gets the greatest resident memory in kB. The limits only guard the
machine that the test runs on; the test judges what stands in the report. A
program that is still there after SECONDS is killed: exit code 124.
"""
import resource
import subprocess
import sys

report, space, seconds, program = sys.argv[1], int(sys.argv[2]) << 20, float(sys.argv[3]), sys.argv[4:]


def limits():
    resource.setrlimit(resource.RLIMIT_AS, (space, space))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


child = subprocess.Popen(program, executable=sys.argv[4], preexec_fn=limits, stdin=subprocess.DEVNULL)
try:
    code = child.wait(seconds)
except subprocess.TimeoutExpired:
    child.kill()
    child.wait()
    code = 124
with open(report, "w") as f:
    f.write(str(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss))
sys.exit(code if code >= 0 else 128 - code)
