"""Fail where a test that needs the real station data was skipped: no_reference_skips.py JUNIT_XML."""

import sys
import xml.etree.ElementTree as ET  # our own test report, not a stranger's file

skips = [
    f"{case.get('classname')}.{case.get('name')}"
    for case in ET.parse(sys.argv[1]).iter("testcase")  # noqa: S314  # as above
    for skip in case.iter("skipped")
    if "FROSTGATE_REFERENCE_DATA" in f"{skip.get('message')} {skip.text}"
]
print("\n".join(f"skipped: {name}" for name in skips))
sys.exit(bool(skips))
