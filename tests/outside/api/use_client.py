"""Uses a client that was generated from the document, as a program of somebody else would."""

import io
import sys

from client.api.bulk import apply_intake, create_csv_intake, create_ndjson_intake, get_intake
from client.api.fasteners import get_fastener, list_fasteners, patch_fastener, put_fastener, withdraw_fastener
from client.api.joints import get_position
from client.api.standards import get_conversion
from client.client import AuthenticatedClient
from client.models.fastener_input import FastenerInput
from client.models.intake_state import IntakeState
from client.models.list_fasteners_head_item import ListFastenersHeadItem
from client.models.merge_patch import MergePatch
from client.models.problem import Problem
from client.models.put_fastener_if_none_match import PutFastenerIfNoneMatch
from client.types import File

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
# Who shows a torque can show how far to trust it.
for torque in [torque for item in answer.items for torque in item.book.torques]:
    assert torque.min_nm > 0 and torque.is_checked in (True, False) and torque.audit.count >= 0, torque
    assert torque.source.document == "Skerry Yard workshop book", torque
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

# Take in a table: looked at first, then stored as it was looked at; its faults are told with their lines.
HEADING = "id,joint,thread,stages\n"
TABLE = HEADING + "".join(f"skua.test-bench.frame.b{n},skua.test-bench.frame,M8,20 N·m\n" for n in range(20))


def body(text):
    return File(payload=io.BytesIO(text.encode()))


checked = create_csv_intake.sync_detailed(client=client, body=body(TABLE), mode="check", name="parts.csv")
assert checked.status_code == 200 and checked.parsed.state == IntakeState.CHECKED, checked
assert get_fastener.sync_detailed("skua.test-bench.frame.b3", client=client).status_code == 404
applied = apply_intake.sync_detailed(checked.parsed.id, client=client)
assert applied.status_code == 201 and applied.parsed.stored == 20, applied
assert get_fastener.sync("skua.test-bench.frame.b3", client=client).stages == ["20 N·m"]
assert get_intake.sync(checked.parsed.id, client=client).state == IntakeState.STORED
wrong = create_csv_intake.sync_detailed(client=client, body=body(HEADING + "skua.test-bench.frame.c,skua.test-bench.frame,M8,95\n"))
assert wrong.status_code == 422 and isinstance(wrong.parsed, Problem), wrong
assert [(e.line, e.record, e.column, e.code) for e in wrong.parsed.errors] == [(2, 1, "stages", "no-unit")], wrong
line = '{"kind":"fastener","id":"skua.test-bench.frame.b3","joint":"skua.test-bench.frame","thread":"M8","stages":["22 N·m"]}\n'
refused = create_ndjson_intake.sync_detailed(client=client, body=body(line))
assert refused.status_code == 422 and refused.parsed.errors[0].code == "already-there", refused
lines = create_ndjson_intake.sync_detailed(client=client, body=body(line), on_same="replace")
assert lines.status_code == 201 and lines.parsed.replaced == 1, lines
assert get_fastener.sync("skua.test-bench.frame.b3", client=client).stages == ["22 N·m"]
