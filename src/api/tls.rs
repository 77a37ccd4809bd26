//! Encrypted connections with the operator's certificate.

use super::options::TlsFiles;
use rustls::ServerConfig;
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What is wrong with the files of a certificate.
#[derive(Debug, thiserror::Error)]
pub enum TlsError {
    /// One of them can't be read, or is no PEM.
    #[error("{} cannot be read as {what} in PEM", path.display())]
    File {
        /// Which.
        path: PathBuf,
        /// What it should hold.
        what: &'static str,
        /// Why.
        source: rustls::pki_types::pem::Error,
    },
    /// There is no certificate in the file.
    #[error("there is no certificate in {}", .0.display())]
    Empty(PathBuf),
    /// Certificate and key don't serve together.
    #[error("the certificate {} and the key {} do not serve together", certificate.display(), key.display())]
    Unfit {
        /// The certificate.
        certificate: PathBuf,
        /// The key.
        key: PathBuf,
        /// Why.
        source: rustls::Error,
    },
}

/// What a listener needs to encrypt with these files.
///
/// # Errors
/// What is wrong with them.
pub fn server_config(files: &TlsFiles) -> Result<ServerConfig, TlsError> {
    let TlsFiles { certificate, key } = files;
    let chain = certificates(certificate)?;
    let private = PrivateKeyDer::from_pem_file(key).map_err(|source| TlsError::File {
        path: key.clone(),
        what: "a private key",
        source,
    })?;
    let unfit = |source| TlsError::Unfit { certificate: certificate.clone(), key: key.clone(), source };
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let builder = ServerConfig::builder_with_provider(provider).with_safe_default_protocol_versions();
    builder.map_err(unfit)?.with_no_client_auth().with_single_cert(chain, private).map_err(unfit)
}

fn certificates(path: &Path) -> Result<Vec<CertificateDer<'static>>, TlsError> {
    let wrong = |source| TlsError::File { path: path.to_owned(), what: "certificates", source };
    let all = CertificateDer::pem_file_iter(path).map_err(wrong)?;
    let all: Vec<_> = all.collect::<Result<_, _>>().map_err(wrong)?;
    if all.is_empty() { Err(TlsError::Empty(path.to_owned())) } else { Ok(all) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn in_files(certificate: &str, key: &str) -> (tempfile::TempDir, TlsFiles) {
        let folder = tempfile::tempdir().unwrap();
        let files = TlsFiles { certificate: folder.path().join("cert.pem"), key: folder.path().join("key.pem") };
        std::fs::write(&files.certificate, certificate).unwrap();
        std::fs::write(&files.key, key).unwrap();
        (folder, files)
    }

    #[test]
    fn a_certificate_and_its_key_serve_and_others_do_not() {
        let made = || rcgen::generate_simple_self_signed(["localhost".to_owned()]).unwrap();
        let (one, other) = (made(), made());
        let (cert, key) = (one.cert.pem(), one.signing_key.serialize_pem());
        let outcome = |certificate: &str, key: &str| {
            let (_folder, files) = in_files(certificate, key);
            server_config(&files).map(|_| ())
        };
        outcome(&cert, &key).unwrap();
        assert!(matches!(outcome(&cert, &other.signing_key.serialize_pem()), Err(TlsError::Unfit { .. })));
        assert!(matches!(outcome(&key, &key), Err(TlsError::Empty(_))));
        assert!(matches!(outcome(&cert, "no key"), Err(TlsError::File { what: "a private key", .. })));
        let missing = TlsFiles { certificate: "/nonexistent/cert.pem".into(), key: "/nonexistent/key.pem".into() };
        assert!(server_config(&missing).unwrap_err().to_string().contains("/nonexistent/cert.pem"));
    }
}
