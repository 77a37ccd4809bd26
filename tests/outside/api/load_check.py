"""Compares what was acknowledged under load with the feed and the book after a restart."""

import glob
import json
import sys
import urllib.request

url, folder = sys.argv[1:]


def get(path):
    with urllib.request.urlopen(url + path, timeout=60) as answer:
        return answer.read()


def lines(kind):
    return [line.strip() for name in glob.glob(f"{folder}/{kind}.*") for line in open(name) if line.strip()]


acknowledged = lines("acknowledged")
assert not lines("wrong"), lines("wrong")[:3]
assert len(acknowledged) >= 50, f"only {len(acknowledged)} writes were acknowledged: that is no load"
assert len(set(acknowledged)) == len(acknowledged), "a write was acknowledged twice"

feed, since, last = [], "0", None
while True:
    page = json.loads(get(f"/v1/changes?take=1000&since={since}"))
    if not page["items"]:
        break
    feed += page["items"]
    since = page["next"]
numbers = [change["sequence"] for change in feed]
assert numbers == list(range(1, len(numbers) + 1)), "the feed has a gap"
in_feed = {change["id"] for change in feed}
in_book = {json.loads(line)["id"] for line in get("/v1/exports/fasteners.ndjson").splitlines()}
lost = [id for id in acknowledged if id not in in_feed or id not in in_book]
assert not lost, f"{len(lost)} of {len(acknowledged)} acknowledged writes are lost, such as {lost[0]}"
print(f"   load: {len(acknowledged)} acknowledged writes, all in the feed and in the book after a restart")
