"""Uses a client that was generated from the document, as a program of somebody else would."""

import sys

from client.api.fasteners import get_fastener, list_fasteners, patch_fastener, put_fastener, withdraw_fastener
from client.api.joints import get_position
from client.api.standards import get_conversion
from client.client import AuthenticatedClient
from client.models.fastener_input import FastenerInput
from client.models.list_fasteners_head_item import ListFastenersHeadItem
from client.models.merge_patch import MergePatch
from client.models.problem import Problem
from client.models.put_fastener_if_none_match import PutFastenerIfNoneMatch

JOINT = "skua.diesel.raw-water-pump.cover"
url, token = sys.argv[1:]
client = AuthenticatedClient(base_url=url, token=token)

# Look-up: by head and thread, by position.
heads = [ListFastenersHeadItem("countersunk"), ListFastenersHeadItem("hexagon-flange")]
page = list_fasteners.sync(client=client, head=heads, thread=["m6"], take=500)
assert page.items and page.page.next_ is not None or len(page.items) < 500, page
assert {item.head.value for item in page.items} <= {"countersunk", "hexagon-flange"}, page
assert all(item.thread.startswith("M6") for item in page.items), page
answer = get_position.sync(JOINT, 5, client=client)
assert answer.joint == JOINT and len(answer.items) >= 1, answer
assert all(item.stages and item.book.revision >= 1 for item in answer.items), answer
assert get_conversion.sync(client=client, value="20 N·m", to="lbf.ft") is not None

# Create, once.
fastener = FastenerInput(joint=JOINT, thread="M10×1", stages=["12 N·m"], name="Drain plug")
new = PutFastenerIfNoneMatch.VALUE_0
made = put_fastener.sync_detailed(JOINT + ".drain", client=client, body=fastener, if_none_match=new)
assert made.status_code == 201 and made.parsed.revision == 1 and made.parsed.changed, made
other = FastenerInput(joint=JOINT, thread="M10×1", stages=["15 N·m"])
again = put_fastener.sync_detailed(JOINT + ".drain", client=client, body=other, if_none_match=new)
assert again.status_code == 412 and isinstance(again.parsed, Problem), again

# Change on condition: with the tag that was read, then with one that is too old.
tag = made.headers["ETag"]
patch = MergePatch()
patch["stages"] = ["14 N·m"]
done = patch_fastener.sync_detailed(JOINT + ".drain", client=client, body=patch, if_match=tag)
assert done.status_code == 200 and done.parsed.revision == 2, done
patch["stages"] = ["16 N·m"]
stale = patch_fastener.sync_detailed(JOINT + ".drain", client=client, body=patch, if_match=tag)
assert stale.status_code == 412 and stale.parsed.type_ == "/problems/changed-since", stale
assert get_fastener.sync(JOINT + ".drain", client=client).stages == ["14 N·m"]
gone = withdraw_fastener.sync_detailed(JOINT + ".drain", client=client, if_match=done.headers["ETag"])
assert gone.status_code == 200, gone
assert get_fastener.sync(JOINT + ".drain", client=client).book.state.value == "withdrawn"
