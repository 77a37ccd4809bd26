//! Encrypted connections: a certificate of the operator's own authority, and clients that believe it or do not.

use super::Process;
use crate::cli::{Book, Done, HEX, clampbook};
use rcgen::{BasicConstraints, CertificateParams, CertifiedIssuer, IsCa, KeyPair};
use std::path::PathBuf;

/// An authority of the yard's own, and a certificate that it gave for the loopback device: files in PEM.
fn certificates(book: &Book) -> [PathBuf; 3] {
    let mut params = CertificateParams::new(Vec::<String>::new()).unwrap();
    params.is_ca = IsCa::Ca(BasicConstraints::Unconstrained);
    params.distinguished_name.push(rcgen::DnType::CommonName, "Skerry Yard");
    let authority = CertifiedIssuer::self_signed(params, KeyPair::generate().unwrap()).unwrap();
    let key = KeyPair::generate().unwrap();
    let names = vec!["localhost".to_owned(), "127.0.0.1".to_owned()];
    let certificate = CertificateParams::new(names).unwrap().signed_by(&key, &authority).unwrap();
    [
        book.file("ca.pem", &authority.pem()),
        book.file("cert.pem", &certificate.pem()),
        book.file("key.pem", &key.serialize_pem()),
    ]
}

#[test]
fn the_command_line_believes_the_authority_that_it_is_given_and_no_other() {
    let book = Book::of_the_yard();
    let shown = book.run(&["show", HEX, "--as", "json"]).fine();
    let [authority, certificate, key] = certificates(&book).map(|path| path.to_str().unwrap().to_owned());
    let service = Process::on(&book, &["--open", "--tls-cert", &certificate, "--tls-key", &key]);
    assert!(service.url.starts_with("https://127.0.0.1:"), "{}", service.url);
    let run = |arguments: &[&str]| {
        Done::of(
            &clampbook().env_remove("CLAMPBOOK_CA").args(["--store", &service.url]).args(arguments).output().unwrap(),
        )
    };
    assert_eq!(run(&["--ca", &authority, "show", HEX, "--as", "json"]).fine(), shown);
    run(&["--ca", &authority, "amend", HEX, "name=Cover bolt", "source.checked_by="]).fine();
    let unknown = run(&["show", HEX]);
    assert_eq!(unknown.code, 3, "{unknown:?}");
    assert!(unknown.err.contains("ertificate"), "{}", unknown.err);
    let none = run(&["--ca", &key, "show", HEX]);
    assert_eq!(none.code, 3, "{none:?}");
    assert!(none.err.contains("key.pem cannot be read as certificates"), "{}", none.err);
    // Who speaks without encryption gets nothing.
    let plain = service.send_raw(b"GET /v1/rules HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n");
    assert!(!plain.contains("HTTP/1.1 200"), "{plain}");
    // The store that it holds is reached through it, with the authority from the environment.
    let through = book.command(&["show", HEX, "--as", "json"]).env("CLAMPBOOK_CA", &authority).output().unwrap();
    assert_eq!(Done::of(&through).json()["name"], "Cover bolt");
}

#[test]
fn a_certificate_without_its_key_starts_nothing() {
    let book = Book::of_the_yard();
    let [authority, certificate, key] = certificates(&book).map(|path| path.to_str().unwrap().to_owned());
    let alone = book.run(&["serve", "--listen", "127.0.0.1:0", "--tls-cert", &certificate]);
    assert_eq!(alone.code, 2, "{alone:?}");
    let unfit = book.run(&["serve", "--listen", "127.0.0.1:0", "--tls-cert", &authority, "--tls-key", &key]);
    assert_eq!(unfit.code, 3, "{unfit:?}");
    assert!(unfit.err.contains("do not serve together"), "{}", unfit.err);
}

/// What a client that believes this authority is answered.
fn ask(
    service: &Process,
    authority: &str,
    path: &str,
    form: Option<&str>,
) -> Result<ureq::http::Response<ureq::Body>, ureq::Error> {
    let pem = std::fs::read(authority).unwrap();
    let authority = ureq::tls::Certificate::from_pem(&pem).unwrap();
    let tls = ureq::tls::TlsConfig::builder().root_certs(ureq::tls::RootCerts::new_with_certs(&[authority])).build();
    let agent = ureq::Agent::config_builder().tls_config(tls).max_redirects(0).http_status_as_error(false).build();
    let agent = ureq::Agent::new_with_config(agent);
    let url = format!("{}{path}", service.url);
    match form {
        Some(form) => agent.post(url).content_type("application/x-www-form-urlencoded").send(form),
        None => agent.get(url).call(),
    }
}

#[test]
fn browsers_are_told_to_stay_encrypted_and_to_send_the_token_only_so() {
    let book = Book::of_the_yard();
    let token = super::token(&book, "mo", "read");
    let [authority, certificate, key] = certificates(&book).map(|path| path.to_str().unwrap().to_owned());
    let service = Process::on(&book, &["--tls-cert", &certificate, "--tls-key", &key]);
    for (path, status) in [("/v1/rules", 200), ("/nowhere", 404), ("/v1/rules?x=1", 400)] {
        let answer = ask(&service, &authority, path, None).unwrap();
        let header = answer.headers().get("strict-transport-security").map(|value| value.to_str().unwrap());
        assert_eq!((answer.status().as_u16(), header), (status, Some("max-age=31536000")), "{path}");
    }
    let signed_in = ask(&service, &authority, "/bench/sign-in", Some(&format!("to=/bench/&token={token}"))).unwrap();
    let cookie = signed_in.headers()["set-cookie"].to_str().unwrap();
    assert!(cookie.ends_with("; HttpOnly; SameSite=Strict; Secure"), "{cookie}");
    drop(service);
    let plain = Process::on(&book, &[]);
    assert_eq!(super::header(&plain.get("/v1/rules", &[]), "strict-transport-security"), None);
}

#[test]
fn a_renewed_certificate_is_used_without_a_restart() {
    let (book, other) = (Book::of_the_yard(), Book::none());
    let [authority, certificate, key] = certificates(&book).map(|path| path.to_str().unwrap().to_owned());
    let [renewed_authority, renewed, renewed_key] = certificates(&other).map(|path| path.to_str().unwrap().to_owned());
    let service = Process::on(&book, &["--tls-cert", &certificate, "--tls-key", &key, "--log", "json"]);
    let is_believed = |authority: &str| ask(&service, authority, "/v1/rules", None).is_ok();
    assert!(is_believed(&authority) && !is_believed(&renewed_authority));
    // A certificate whose key has not come yet is not taken.
    std::fs::copy(&renewed, &certificate).unwrap();
    service.signal("HUP");
    let kept = service.log_with("why", 1);
    assert!(kept[0]["why"].as_str().unwrap().contains("do not serve together"), "{kept:?}");
    assert!(is_believed(&authority));
    std::fs::copy(&renewed_key, &key).unwrap();
    service.signal("HUP");
    let start = std::time::Instant::now();
    while !is_believed(&renewed_authority) {
        assert!(start.elapsed() < std::time::Duration::from_secs(20), "{}", service.log());
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
    assert!(!is_believed(&authority));
}
