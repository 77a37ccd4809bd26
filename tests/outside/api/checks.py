"""What is checked beyond the tester's own checks: that good data is refused only for what no schema can say, and that
what was withdrawn says so."""

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
}
# Faults of a body that its schema would have told of.
SCHEMA_SAYS = {"wrong-type", "unknown-field", "missing", "too-long", "given-twice"}


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
        # What lines and cells hold is no matter of schemas; every fault must be told of.
        return problem["intake"]["faults_total"] > 0
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
