//! What the service does over HTTP, beside a static body of the same size, and while others write.

use crate::book::Book;
use crate::load::{Client, Load, beside_static, get, once, round};
use crate::memory::{resident, until_idle};
use crate::report::{Report, Wanted, at_share, time};
use crate::server::Server;
use crate::{SMALL, Scale, generator, questions, taking_in};
use std::path::Path;
use std::time::{Duration, Instant};

/// In how many ways each search is spelled that has to be new to the service: so many that hardly any is asked twice.
const SPELLINGS: u32 = 2000;
/// How long the first audit is waited for.
const AUDIT_MOST: Duration = Duration::from_secs(600);
/// Records of the import under which is read.
const IMPORTED: usize = 5000;

/// Measures everything that goes over HTTP.
pub fn measure(store: &Path, book: &Book, scale: &Scale, report: &mut Report) {
    let server = Server::start(store);
    let idle = resident(server.process()).0;
    let (one, places) = (fasteners(book), places(book));
    let asked = questions::searches(15, scale.questions, (scale.fasteners / 400).max(1));
    let searches = gets(asked.iter().map(questions::Question::path));
    let spelled = |spelling| asked.iter().map(move |question| question.path_spelled(spelling));
    let anew = gets((1..=SPELLINGS).flat_map(spelled));
    report.say(&format!("a fastener over HTTP of a book that was never audited: {}", first(&server, &one[0])));
    for (what, requests, least, is_asked_before) in [
        ("GET one fastener", &one, 0.80, true),
        ("look-up by joint, position, head", &places, 0.70, true),
        ("search, a page of 20, asked again", &searches, 0.40, true),
        // These have to be new; the records on them are ready, since the others show the same.
        ("search, a page of 20, never asked before", &anew, 0.40, false),
    ] {
        if is_asked_before {
            let first = once(server.address, requests);
            // Whatever has room is made ready meanwhile, and for some seconds more.
            let (count, rest) = (requests.len(), time(until_idle(server.process())));
            let rate = first.rate();
            report.say(&format!(
                "{what}, each of {count} once: {rate:.0}/s; measured when the service rests, {rest} later"
            ));
        }
        beside(&server, what, requests, least, scale, report);
    }
    let (now, most) = resident(server.process());
    let megabytes = |bytes: u64| format!("{:.0} MB", bytes as f64 / 1e6);
    let ours = format!("{} ({} when it had started, at most {})", megabytes(now), megabytes(idle), megabytes(most));
    report.row(
        "memory while serving, against the JSON",
        &ours,
        &megabytes(book.bytes),
        now as f64 / book.bytes as f64,
        Wanted::AtMost(1.5),
    );
    growth(&server, &one, &places, scale, report);
    writes_under_load(&server, &one, scale, report);
    for (what, requests, ships) in
        [("fasteners", &one, "later"), ("positions", &places, "after"), ("pages", &searches, "beyond")]
    {
        reads_under_import(&server, what, requests, ships, scale, report);
    }
    // Its audit takes in what was imported, so that there is one of the last change to be left.
    first(&server, &one[0]);
    server.stop();
    let (began, server) = (Instant::now(), Server::start(store));
    let up = time(began.elapsed());
    let first = first(&server, &one[0]);
    report.say(&format!("the same after a service had closed it, which started in {up}: {first}"));
    server.stop();
}

/// How long it takes until a fastener is shown, and until it is shown with what the audit of the book as it is says of it.
fn first(server: &Server, request: &[u8]) -> String {
    let (began, mut client, mut shown) = (Instant::now(), Client::to(server.address), None);
    while began.elapsed() < AUDIT_MOST {
        assert_eq!(client.send(request).0, 200, "the first fastener");
        let shown = *shown.get_or_insert_with(|| began.elapsed());
        if !client.head().contains("book-audited") {
            return format!("{}, with what the audit says of it {}", time(shown), time(began.elapsed()));
        }
        std::thread::sleep(Duration::from_millis(1));
    }
    panic!("the book was not audited within {AUDIT_MOST:?}");
}

fn gets(paths: impl IntoIterator<Item = String>) -> Vec<Vec<u8>> {
    paths.into_iter().map(|path| get(&path)).collect()
}

/// One fastener each.
fn fasteners(book: &Book) -> Vec<Vec<u8>> {
    gets(book.fasteners.iter().map(|id| format!("/v1/fasteners/{id}")))
}

/// What sits at a position of a joint, with a head.
fn places(book: &Book) -> Vec<Vec<u8>> {
    let place = |(joint, n, head): &(String, u32, String)| format!("/v1/joints/{joint}/positions/{n}?head={head}");
    gets(book.places.iter().map(place))
}

/// Look-ups in this book, and the same in a small one, whose service answers in turns with this one.
fn growth(server: &Server, one: &[Vec<u8>], seated: &[Vec<u8>], scale: &Scale, report: &mut Report) {
    let folder = tempfile::tempdir().expect("a folder");
    let (fewer, store) = (SMALL.min(scale.fasteners), folder.path().join("small"));
    let book = Book::make(fewer, folder.path());
    taking_in::alone(&book, &store);
    let small = Server::start(&store);
    for (what, requests, of_small) in
        [("GET one fastener", one, fasteners(&book)), ("look-up by joint, position, head", seated, places(&book))]
    {
        once(small.address, &of_small);
        until_idle(small.process());
        let [mut large, mut other] = [Load::default(), Load::default()];
        for _ in 0..scale.rounds {
            large.add(round(server.address, requests, scale.load));
            other.add(round(small.address, &of_small, scale.load));
        }
        let rate = |load: &Load| format!("{:.0}/s", load.rate());
        report.row(
            &format!("{what} over HTTP: {} fasteners against {fewer}", scale.fasteners),
            &rate(&large),
            &rate(&other),
            other.rate() / large.rate(),
            Wanted::AtMost(1.5),
        );
    }
    small.stop();
}

/// One kind of request beside static bodies. The target is held against the same server, which leads its static body
/// through the same middleware; what the middleware costs is told by the bare one.
fn beside(server: &Server, what: &str, requests: &[Vec<u8>], least: f64, scale: &Scale, report: &mut Report) {
    let [mut ours, led, bare] = beside_static(server, requests, scale.load, scale.rounds);
    let what = format!("{what} ({} B)", ours.body());
    let (rate, slow) = (ours.rate(), at_share(&mut ours.times, 0.99));
    let is_first = least == 0.80;
    for (other, mut load, is_held) in [("the same middleware", led, true), ("no middleware", bare, false)] {
        let held = |wanted| if is_held { wanted } else { Wanted::Nothing };
        report.row(
            &format!("{what}, against a static body through {other}"),
            &format!("{rate:.0}/s"),
            &format!("{:.0}/s", load.rate()),
            rate / load.rate(),
            held(Wanted::AtLeast(least)),
        );
        let beside = at_share(&mut load.times, 0.99);
        let wanted = if is_first { held(Wanted::AtMost(2.0)) } else { Wanted::Nothing };
        let ratio = slow.as_secs_f64() / beside.as_secs_f64();
        report.row(&format!("its p99, against that through {other}"), &time(slow), &time(beside), ratio, wanted);
    }
}

/// Single writes while others read as fast as they can.
fn writes_under_load(server: &Server, reads: &[Vec<u8>], scale: &Scale, report: &mut Report) {
    let long = scale.load * 2;
    let (mut times, mut reading) = std::thread::scope(|scope| {
        let reading = scope.spawn(move || round(server.address, reads, long));
        let (mut client, mut times, began) = (Client::to(server.address), Vec::new(), Instant::now());
        while began.elapsed() < long {
            let body = r#"{"joint":"bench.written.here","thread":"M8","stages":["20 N·m"]}"#;
            let request = format!(
                "PUT /v1/fasteners/bench.written.here.w{} HTTP/1.1\r\nHost: localhost\r\nIf-None-Match: *\r\n\
                 Content-Type: application/json\r\nContent-Length: {}\r\n\r\n{body}",
                times.len(),
                body.len()
            );
            let start = Instant::now();
            assert_eq!(client.send(request.as_bytes()).0, 201);
            times.push(start.elapsed());
        }
        (times, reading.join().expect("the readers"))
    });
    let (middle, slow) = (at_share(&mut times, 0.5), at_share(&mut times, 0.99));
    let ours = format!("{} (p99 {}, {} writes)", time(middle), time(slow), times.len());
    report.row(
        "a write to last, while all read, against 20 ms",
        &ours,
        "20 ms",
        middle.as_secs_f64() / 0.02,
        Wanted::AtMost(1.0),
    );
    let slow = at_share(&mut reading.times, 0.99);
    report.say(&format!("reads meanwhile: {:.0}/s, p99 {}", reading.rate(), time(slow)));
}

/// Reads while an import of other ships runs, beside reads alone.
fn reads_under_import(server: &Server, what: &str, reads: &[Vec<u8>], ships: &str, scale: &Scale, report: &mut Report) {
    until_idle(server.process());
    let mut alone = round(server.address, reads, scale.load);
    let mut lines = String::new();
    generator::book(IMPORTED.min(scale.fasteners), 77, |line| {
        lines.push_str(&line.replace("ferry-", &format!("{ships}-")));
        lines.push('\n');
    });
    let head = format!(
        "POST /v1/intakes.ndjson?mode=whole HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/x-ndjson\r\nContent-Length: {}\r\n\r\n",
        lines.len()
    );
    let request = [head.as_bytes(), lines.as_bytes()].concat();
    let (took, mut during) = std::thread::scope(|scope| {
        let importing = scope.spawn(|| {
            let began = Instant::now();
            let status = Client::to(server.address).send(&request).0;
            assert!(status == 201 || status == 202, "{status}");
            began.elapsed()
        });
        let mut during = Load::default();
        while !importing.is_finished() {
            let part = round(server.address, reads, Duration::from_millis(100));
            during.times.extend(part.times);
            during.rates.extend(part.rates);
        }
        (importing.join().expect("an import"), during)
    });
    let mut after = once(server.address, reads);
    let (longest, before) = (at_share(&mut during.times, 1.0), at_share(&mut alone.times, 0.99));
    let ours =
        format!("{:.0}/s, p99 {}, longest {}", during.rate(), time(at_share(&mut during.times, 0.99)), time(longest));
    let other = format!("{:.0}/s, p99 {}", alone.rate(), time(before));
    let ratio = during.rate() / alone.rate();
    report.row(
        &format!("{what} read during an import of {:.1} MB ({})", lines.len() as f64 / 1e6, time(took)),
        &ours,
        &other,
        ratio,
        Wanted::Nothing,
    );
    report.say(&format!("each asked for once just after it: the longest {}", time(at_share(&mut after.times, 1.0))));
}
