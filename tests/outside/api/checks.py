"""What is checked beyond the tester's own checks: that good data is refused only for what no schema can say, that every no
is a problem, and that what was withdrawn says so wherever it is read."""

import json

import schemathesis
from schemathesis import GenerationMode

# Parameters whose texts have a grammar, by operation.
OF_SEARCHES = {"/q", "/after", "/thread", "/thread.not", "/property_class", "/property_class.not"}
GRAMMAR = {
    "list_fasteners": OF_SEARCHES,
    "list_joints": OF_SEARCHES,
    "get_thread": {"/designation"},
    "get_class": {"/thread"},
    "get_conversion": {"/value", "/to"},
    "list_records": OF_SEARCHES,
    "get_joint_card": {"/wrench"},
}
# Faults of a body that its schema would have told of.
SCHEMA_SAYS = {"wrong-type", "unknown-field", "missing", "too-long", "given-twice"}


@schemathesis.hook
def before_load_schema(ctx, raw_schema):
    """Leaves the header Book-Seen out: one that is made up names another life of the book, which is 410 and nothing else."""
    for item in raw_schema["paths"].values():
        for operation in item.values():
            if isinstance(operation, dict) and "parameters" in operation:
                kept = [p for p in operation["parameters"] if p.get("name") != "Book-Seen"]
                operation["parameters"] = kept


@schemathesis.serializer("application/x-ndjson")
def as_lines(ctx, value):
    if isinstance(value, bytes):
        return value
    text = value if isinstance(value, str) else json.dumps(value)
    return text.encode("utf-8", errors="surrogatepass")


def is_beyond_schemas(problem, operation):
    """Whether a problem is about something that no schema can say."""
    if problem["type"] == "/problems/cursor-mismatch":
        return True
    errors = problem.get("errors", [])
    if problem["status"] == 422 and "intake" in problem:
        # What lines and cells hold is no matter of schemas; every fault must be told of, with its line and record.
        told = all("line" in error and "record" in error for error in errors)
        return told and min(problem["intake"]["faults_total"], 1000) == len(errors)
    if problem["status"] == 422 and operation.startswith("patch_"):
        # The document says what a change looks like, not what the record must look like afterwards.
        return bool(errors)
    if problem["status"] == 422:
        return bool(errors) and all(error["code"] not in SCHEMA_SAYS for error in errors)
    if operation.startswith("put_") and [(e["pointer"], e.get("given")) for e in errors] == [("/If-Match", "0")]:
        return True
    texts = GRAMMAR.get(operation, set())
    return bool(errors) and all(error["code"] == "contradiction" or error["pointer"] in texts for error in errors)


@schemathesis.check
def good_data_is_refused_only_beyond_schemas(ctx, response, case):
    if case.meta is None or case.meta.generation.mode != GenerationMode.POSITIVE:
        return
    if response.status_code not in (400, 422):
        return
    operation = case.operation.definition.raw.get("operationId")
    problem = response.json()
    assert is_beyond_schemas(problem, operation), f"refused for what the document allows: {problem}"


@schemathesis.check
def every_answer_is_whole(ctx, response, case):
    headers = {name.lower(): values for name, values in response.headers.items()}
    assert headers.get("request-id"), "an answer without Request-Id"
    assert headers.get("x-content-type-options") == ["nosniff"], "an answer without nosniff"
    if response.status_code >= 400 and case.method.upper() != "HEAD":
        assert headers.get("content-type") == ["application/problem+json"], "a no that is no problem"
        problem = response.json()
        assert problem["status"] == response.status_code, "a problem that says another status"
    if response.status_code == 401:
        assert headers.get("www-authenticate"), "401 without WWW-Authenticate"


# The records that were withdrawn in this run; a write may bring one back.
withdrawn = set()


@schemathesis.check
def what_was_withdrawn_says_so(ctx, response, case):
    name = case.operation.definition.raw.get("operationId")
    if not 200 <= response.status_code < 300:
        return
    if name == "apply_batch" or (name or "").endswith("_intake"):
        withdrawn.clear()
    record = (case.path_parameters or {}).get("id")
    if name in ("withdraw_fastener", "withdraw_joint"):
        withdrawn.add(record)
    elif name in ("put_fastener", "put_joint", "patch_fastener", "patch_joint"):
        withdrawn.discard(record)
    elif name in ("get_fastener", "get_joint") and record in withdrawn and not (case.query or {}).get("as_of"):
        assert response.json()["book"]["state"] == "withdrawn", f"{record} was withdrawn and does not say so"
