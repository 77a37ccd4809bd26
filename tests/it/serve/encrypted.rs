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
