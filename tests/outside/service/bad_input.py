"""Bad input from outside, with nothing but sockets: each request gets its documented problem, none a 500, and the service lives.

What cannot be read as HTTP at all is answered with a bare status, since nothing is known of who sends it.
"""

import json
import pathlib
import random
import re
import socket
import sys
import threading
import time
import urllib.parse

base, folder = sys.argv[1], pathlib.Path(sys.argv[2])
host, port = base.removeprefix("http://").rsplit(":", 1)
token = {name: (folder / f"{name}.token").read_text().strip() for name in ("read", "write", "check", "admin", "read,write")}
bearer = f"Authorization: Bearer {token['read,write']}"
chance = random.Random(8470)
faults, count = [], 0
lock = threading.Lock()


def raw(data, wait=15.0, pause=None):
    """Sends bytes as they are, pauses before the rest if told so, and gives status, headers and body."""
    parts = data if isinstance(data, list) else [data]
    with socket.create_connection((host, int(port)), timeout=wait) as connection:
        try:
            for i, part in enumerate(parts):
                if i and pause:
                    time.sleep(pause)
                connection.sendall(part)
        except OSError:
            pass  # It may have refused before everything was sent.
        answer = b""
        try:
            while piece := connection.recv(1 << 16):
                answer += piece
                head, _, body = answer.partition(b"\r\n\r\n")
                length = re.search(rb"(?i)\r\ncontent-length: *([0-9]+)", head)
                if body is not None and length and len(body) >= int(length[1]):
                    break
        except OSError:
            pass
    head, _, body = answer.partition(b"\r\n\r\n")
    lines = head.decode("latin-1").split("\r\n")
    status = int(lines[0].split(" ")[1]) if lines[0].startswith("HTTP/1.1 ") else 0
    headers = {name.lower(): value.strip() for name, _, value in (line.partition(":") for line in lines[1:])}
    return status, headers, body


def request(method, path, headers=(), body=b""):
    if isinstance(body, str):
        body = body.encode()
    lines = [f"{method} {path} HTTP/1.1", f"Host: {host}", "Connection: close", *headers]
    if body or method in ("POST", "PUT", "PATCH"):
        lines.append(f"Content-Length: {len(body)}")
    return "\r\n".join(lines).encode("utf-8", "surrogateescape") + b"\r\n\r\n" + body


def expect(what, answer, *statuses, bare=False):
    """The answer has one of these statuses and is a problem that its own page explains."""
    global count
    status, headers, body = answer
    wrong = None
    if status not in statuses:
        wrong = f"{status} instead of {statuses}: {body[:300]!r}"
    elif status >= 400 and not (bare and not body):
        if headers.get("content-type") != "application/problem+json":
            wrong = f"{status} as {headers.get('content-type')}"
        else:
            problem = json.loads(body)
            if problem.get("status") != status or not problem.get("detail") or not problem["type"].startswith("/problems/"):
                wrong = f"a problem that says nothing: {problem}"
            elif "request-id" not in headers:
                wrong = "an answer without an id"
            elif len(body) > 200_000:
                wrong = f"{len(body)} bytes came back"
    with lock:
        count += 1
        if wrong:
            faults.append(f"{what}: {wrong}")
    return answer


def send(what, statuses, method, path, headers=(), body=b"", **more):
    statuses = statuses if isinstance(statuses, tuple) else (statuses,)
    return expect(what, raw(request(method, path, headers, body)), *statuses, **more)


JSON = "Content-Type: application/json"
JOINT = "/v1/joints/skua.diesel.raw-water-pump.cover"
HEX = "/v1/fasteners/skua.diesel.raw-water-pump.cover.hex"


def slow():
    """What waits for time-outs, beside everything else."""

    def head():
        answer = raw([b"GET /v1/rules HTTP/1.1\r\nHost: x\r\nX-Slow: ", b"still"], wait=20, pause=2)
        expect("a head that never ends", answer, 408, bare=True)

    def body():
        start = time.monotonic()
        begun = request("POST", "/v1/tightening", [JSON], b" " * 100)[:-90]
        answer = raw([begun], wait=30)
        expect("a body that never ends", answer, 408)
        took = time.monotonic() - start
        if took > 26:
            faults.append(f"a body that never ends is waited for {took:.0f} s")

    def many():
        """Connections that say nothing, while others are answered."""
        held = [socket.create_connection((host, int(port)), timeout=5) for _ in range(200)]
        time.sleep(3)
        expect("beside 200 silent connections", raw(request("GET", "/v1/rules")), 200)
        for connection in held:
            connection.close()

    threads = [threading.Thread(target=work) for work in (head, body, many)]
    for thread in threads:
        thread.start()
    return threads


def not_http():
    for what, data in [
        ("no HTTP at all", b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + bytes(200)),
        ("noise", bytes(chance.randrange(256) for _ in range(2000)) + b"\r\n\r\n"),
        ("no host", b"GET /v1/rules HTTP/1.1\r\n\r\n"),
        ("two lengths", b"POST /v1/audits HTTP/1.1\r\nHost: x\r\nContent-Length: 3\r\nContent-Length: 5\r\n\r\n{}"),
        ("length and chunks", b"POST /v1/audits HTTP/1.1\r\nHost: x\r\nContent-Length: 3\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n"),
        ("a length below nothing", b"POST /v1/audits HTTP/1.1\r\nHost: x\r\nContent-Length: -1\r\n\r\n"),
        ("a header without a name", b"GET /v1/rules HTTP/1.1\r\nHost: x\r\n: y\r\n\r\n"),
        ("a folded header", b"GET /v1/rules HTTP/1.1\r\nHost: x\r\nX: a\r\n b\r\n\r\n"),
        ("a blank in the path", b"GET /v1/ru les HTTP/1.1\r\nHost: x\r\n\r\n"),
    ]:
        expect(what, raw(data), 400, bare=True)
    chunk = request("POST", "/v1/audits", [JSON, "Transfer-Encoding: chunked"]).replace(b"Content-Length: 0\r\n", b"")
    expect("a chunk of nonsense length", raw(chunk + b"zz\r\n{}\r\n0\r\n\r\n"), 400, bare=True)
    # More headers than are read at all, and more than are taken.
    flood = b"".join(b"X-%d: %d\r\n" % (n, n) for n in range(5000))
    expect("5,000 headers", raw(b"GET /v1/rules HTTP/1.1\r\nHost: x\r\n" + flood + b"\r\n"), 400, 431, bare=True)
    expect("a header of a megabyte", raw(b"GET /v1/rules HTTP/1.1\r\nHost: x\r\nX: " + b"x" * (1 << 20) + b"\r\n\r\n"), 431, bare=True)
    send("70 headers", 431, "GET", "/v1/rules", [f"X-{n}: {n}" for n in range(70)])
    send("a header of 40,000 bytes", 431, "GET", "/v1/rules", ["X: " + "x" * 40_000])
    send("a long address", 414, "GET", "/v1/fasteners?q=" + "a" * 9000)


def bodies():
    deep = "[" * 100_000
    nested = '{"a":' * 40 + "1" + "}" * 40
    put = ["If-None-Match: *", bearer, JSON]
    for method, path, headers in [
        ("POST", "/v1/tightening", [JSON]),
        ("POST", "/v1/audits", [JSON]),
        ("POST", "/v1/kits", [JSON]),
        ("POST", "/v1/ranges", [JSON]),
        ("PUT", "/v1/joints/a.b", put),
        ("PUT", "/v1/fasteners/a.b.c", put),
        ("POST", "/v1/batches", [bearer, JSON]),
    ]:
        for what, body in [
            ("cut off", '{"thread": '),
            ("empty", ""),
            ("deep", deep),
            ("nested", nested),
            ("no UTF-8", b'{"thread": "\xff\xfe"}'),
            ("a lone surrogate", '{"thread": "\\ud800"}'),
            ("a member twice", '{"id": "a.b", "id": "a.b"}'),
            ("no number", '{"a": NaN}'),
            ("a number without end", '{"a": ' + "9" * 5000 + "}"),
            ("more after the end", "{} {}"),
        ]:
            send(f"{method} {path}: {what}", (400, 422), method, path, headers, body)
        send(f"{method} {path}: an unknown field", 422, method, path, headers, '{"frobnicate": 1}')
        send(f"{method} {path}: another kind", 422, method, path, headers, "true")
        send(f"{method} {path}: huge", 413, method, path, headers, '{"a": "' + "x" * (2 << 20) + '"}')
        without = [header for header in headers if header != JSON]
        for kind in ["text/plain", "application/json; charset=utf-16", "application/xml", "multipart/form-data; boundary=x", "json", ""]:
            send(f"{method} {path} as {kind!r}", 415, method, path, [*without, f"Content-Type: {kind}"], "{}")
    bomb = "1" + "0" * 400
    send("a torque beyond numbers", 422, "POST", "/v1/tightening", [JSON], json.dumps({"thread": "M8", "property_class": "8.8", "torque": bomb + " N·m"}))
    for patch in ['[{"op":"move","from":"/a","path":"/a/b"}]', '[{"op":"add","path":"/x/y/z","value":1}]', '[{"op":"fly"}]', '{"op":1}']:
        headers = ["Content-Type: application/json-patch+json", 'If-Match: *', bearer]
        send(f"patch {patch}", (400, 422), "PATCH", JOINT, headers, patch)


def paths():
    for folder_ in ("fasteners", "joints", "assemblies"):
        for name in [
            "..%2F..%2Fetc%2Fpasswd", "%00", "a%00b", "%FF%FE", "a..b", ".a", "a.", "A.B", "a/../b", "%2e%2e", "a.b%0d%0aX:%20y",
            "%E2%80%AE", "a" * 200, ".".join("a" * 9), "-a.b", "a.b?", "%", "%zz", "a;b", "a.b%20", "~root", "con", "%F0%9F%94%A9.b",
        ]:
            path = f"/v1/{folder_}/{name}"
            # An address that is none is no HTTP either.
            send(f"GET {path}", (400, 404), "GET", path, bare=True)
            send(f"PUT {path}", (400, 401, 404, 405), "PUT", path, [JSON], "{}", bare=True)
    for path in ["/v1/joints/a.b/positions/0", "/v1/joints/a.b/positions/-1", "/v1/joints/a.b/positions/99999999999999999999",
                 JOINT + "/revisions/0", JOINT + "/revisions/-1", JOINT + "/revisions/18446744073709551616", JOINT + "/revisions/x"]:
        send(path, (400, 404), "GET", path)
    for path in ["/", "/v1", "/v2/fasteners", "/v1/fasteners/", "//v1/rules", "/docs/../../etc/passwd", "/openapi.yaml"]:
        send(path, (400, 404, 308), "GET", path, bare=True)


def cursors():
    page = json.loads(raw(request("GET", "/v1/fasteners?take=2"))[2])
    good = page["page"]["next"]
    # One character of it changed, in its middle: the last one of a base64 text may hold bits that nobody reads.
    middle = len(good) // 2
    forged = good[:middle] + ("A" if good[middle] != "A" else "B") + good[middle + 1 :]
    document = json.loads(raw(request("GET", "/openapi.json"))[2])
    paged = [
        path
        for path, item in document["paths"].items()
        if any(parameter.get("name") == "after" for parameter in item.get("get", {}).get("parameters", []))
    ]
    assert "/v1/fasteners" in paged and "/v1/joints" in paged, paged
    for path in paged:
        filled = path.replace("{id}", "skua.diesel.raw-water-pump.cover").replace("{n}", "1")
        for cursor in [forged, good[:-4], good + "AAAA", "x", "%00", "a" * 3000, "..%2F", urllib.parse.quote("{}"), "AAAA" * 10]:
            send(f"{path}: cursor {cursor[:20]}", 400, "GET", f"{filled}?after={cursor}")
        if path != "/v1/fasteners":
            send(f"{path}: a cursor of another list", 400, "GET", f"{filled}?after={urllib.parse.quote(good)}")
    send("a cursor of another question", 400, "GET", f"/v1/fasteners?take=2&head=hexagon&after={urllib.parse.quote(good)}")
    for since in ["x", "-1", "1.5", "99999999", "0000000000000000.1", "%00", "0123456789abcdef.0"]:
        send(f"changes since {since}", (400, 410), "GET", f"/v1/changes?since={since}")
    for query in ["take=0", "take=501", "take=x", "take=1&take=2", "frobnicate=1", "torque.min=x", "sort=nothing",
                  "position=-1", "as_of=yesterday", "facets=x", "head.min=1", "fields=nothing", "count=maybe", "%00=%00"]:
        send(f"fasteners?{query}", 400, "GET", f"/v1/fasteners?{query}")


def tokens_and_tags():
    flipped = token["write"][:-1] + ("0" if token["write"][-1] != "0" else "1")
    for name, forged in [
        ("one character changed", flipped), ("empty", ""), ("no token", "cb_" + "0" * 64), ("an SQL trick", "' or 1=1 --"),
        ("long", "cb_" + "f" * 5000), ("a prefix", token["admin"][:20]), ("no ASCII", "cb_\u00e9"), ("two", token["read"] + " " + token["write"]),
        ("a digest", "eyJhbGciOiJub25lIn0.e30."),
    ]:
        for method, path in [("GET", "/v1/fasteners"), ("PUT", "/v1/joints/a.b"), ("DELETE", JOINT), ("POST", "/v1/intakes")]:
            send(f"{method} {path} with a forged token: {name}", 401, method, path, [f"Authorization: Bearer {forged}", JSON, "If-Match: *"], "{}")
    for scheme in ["Basic bW86bW8=", "Digest x", "bearer", token["admin"]]:
        send(f"scheme {scheme[:10]}", 401, "GET", "/v1/fasteners", [f"Authorization: {scheme}"])
    # A token of each narrower scope on every operation that writes, taken from the document.
    document = json.loads(raw(request("GET", "/openapi.json"))[2])
    writing = 0
    for path, item in document["paths"].items():
        for method, operation in item.items():
            if method not in ("put", "post", "patch", "delete") or operation.get("security") != [{"bearer": []}]:
                continue
            writing += 1
            filled = path.replace("{id}", "skua.diesel.raw-water-pump.cover")
            for scope in ("read", "check"):
                headers = [f"Authorization: Bearer {token[scope]}", JSON, "If-Match: *"]
                send(f"{operation['operationId']} with the scope {scope}", 403, method.upper(), filled, headers, "{}")
    assert writing >= 8, writing
    body = raw(request("GET", JOINT))[2]
    # What equals the present state is no write, whatever its tag.
    other = json.dumps({**json.loads(body), "title": "Another title"})
    for tag, status in [('"r999"', 412), ('"r0"', 412), ("r1", (400, 412)), ('W/"r1"', (400, 412)), ('"x"', (400, 412)), ("", (400, 412, 428)), ("\u00e9", (400, 412, 428))]:
        send(f"a stale tag {tag}", status, "PUT", JOINT, [bearer, JSON, f"If-Match: {tag}"], other)
        send(f"withdrawing with the tag {tag}", status, "DELETE", JOINT, [bearer, f"If-Match: {tag}"])
    send("no tag", 428, "PUT", JOINT, [bearer, JSON], body)
    send("new where something is", 412, "PUT", JOINT, [bearer, JSON, "If-None-Match: *"], other)
    send("a body for another id", (409, 422), "PUT", "/v1/joints/a.b", [bearer, JSON, "If-None-Match: *"], body)
    assert raw(request("GET", JOINT))[2] == body, "something of this was stored"


def tables():
    header = "kind,id,joint,thread,torque\n"
    csv = "Content-Type: text/csv"
    for name, cell in [
        ("control characters", "a\x07b"),
        ("no number", "NaN N·m"), ("endless", "inf N·m"), ("a long cell", "M" * 70_000),
    ]:
        quoted = '"' + cell.replace('"', '""') + '"'
        row = f"fastener,a.b.c,a.b,M8,{quoted}\n"
        send(f"a table with {name}", (413, 422), "POST", "/v1/intakes.csv?mode=whole", [bearer, csv], header + row)
    for name, body in [
        ("an open quote", header + 'fastener,"a.b.c,a.b,M8,20 N·m\n'), ("too many cells", header + "fastener,a.b.c,a.b,M8,20 N·m,,,,,x\n"),
        ("a column twice", "kind,id,id\nfastener,a.b.c,a.b.d\n"), ("an unknown column", "kind,id,frobnicate\njoint,a.b,1\n"),
        ("no UTF-8", header.encode() + b"fastener,a.b.c,a.b,\xff\xfe,20\n"), ("only zeros", "\0" * 1000),
        ("UTF-16", header.encode("utf-16")),
    ]:
        send(f"a table with {name}", (400, 415, 422), "POST", "/v1/intakes.csv?mode=whole", [bearer, csv], body)
    lines = "Content-Type: application/x-ndjson"
    for name, body in [("cut off", '{"kind":"joint",'), ("deep", "[" * 50_000), ("mixed", '{"kind":"joint","id":"a.b"}\nnonsense\n'), ("a list", "[]\n")]:
        send(f"lines that are {name}", (400, 422), "POST", "/v1/intakes.ndjson?mode=whole", [bearer, lines], body)
    send("a table as JSON", (400, 422), "POST", "/v1/intakes", [bearer, JSON], header)
    for query in ["mode=fast", "on_same=overwrite", "decimal=x", "delimiter=ab"]:
        send(f"intake {query}", 400, "POST", f"/v1/intakes.csv?{query}", [bearer, csv], header)


def formulas():
    """A cell that a spreadsheet would run is kept as it was entered, and guarded where it leaves as a table."""
    rows = "kind,id,joint,thread,torque\n" + "".join(
        f'fastener,a.b.c{n},a.b,"{cell}",20 N·m\n' for n, cell in enumerate(["=1+1", "@SUM(A1)", "+1", "-1", "=HYPERLINK(1)"])
    )
    send("cells that a spreadsheet would run", (201, 422), "POST", "/v1/intakes.csv?mode=whole", [bearer, "Content-Type: text/csv"], rows)
    with socket.create_connection((host, int(port)), timeout=15) as connection:
        connection.sendall(request("GET", "/v1/exports/fasteners.csv"))
        export = b"".join(iter(lambda: connection.recv(1 << 16), b""))
    for line in export.decode().splitlines():
        for cell in re.findall(r'(?:^|,)"?([=+@-][^,]*)', line):
            faults.append(f"a cell leaves unguarded: {cell}")


def methods():
    for path in ["/v1/rules", HEX, "/v1/changes", "/v1/intakes"]:
        for method in ["TRACE", "OPTIONS", "FLY", "PROPFIND"]:
            status, headers, _ = send(f"{method} {path}", 405, method, path)
            if status == 405 and "allow" not in headers:
                faults.append(f"{method} {path}: 405 without Allow")
    for accept in ["text/html", "image/png", "application/json;q=0"]:
        send(f"rules as {accept}", 406, "GET", "/v1/rules", [f"Accept: {accept}"])


start = time.monotonic()
waiting = slow()
before = json.loads(raw(request("GET", "/v1/changes?take=1"))[2])["last"]
for work in (not_http, bodies, paths, cursors, tokens_and_tags, tables, methods):
    work()
after = json.loads(raw(request("GET", "/v1/changes?take=1"))[2])["last"]
if after != before:
    faults.append(f"{after - before} changes were made by what was refused")
formulas()
for thread in waiting:
    thread.join()
for path in ("/health/live", "/health/ready"):
    expect(path, raw(request("GET", path)), 200)
if faults:
    print(f"{len(faults)} of {count}:", *faults, sep="\n", file=sys.stderr)
    sys.exit(1)
print(f"   {count} bad requests in {time.monotonic() - start:.0f} s, and it lives")
