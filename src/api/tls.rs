//! Encrypted connections with the operator's certificate, which may be renewed while the service runs.

use super::options::TlsFiles;
use arc_swap::ArcSwap;
use rustls::ServerConfig;
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use rustls::server::{ClientHello, ResolvesServerCert};
use rustls::sign::CertifiedKey;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::SystemTime;

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

/// The certificate that new connections are encrypted with.
#[derive(Debug)]
pub struct Certificate {
    files: TlsFiles,
    current: ArcSwap<CertifiedKey>,
    looked: Mutex<Look>,
}

/// What files looked like: length and time of each, nothing for one that is not there.
type Look = [Option<(u64, Option<SystemTime>)>; 2];

impl Certificate {
    /// The certificate in these files.
    ///
    /// # Errors
    /// What is wrong with them.
    pub fn of(files: &TlsFiles) -> Result<Arc<Self>, TlsError> {
        // Looked at before they are read, so that what is written meanwhile is read again.
        let looked = Mutex::new(look(files));
        let current = ArcSwap::from_pointee(read(files)?);
        Ok(Arc::new(Self { files: files.clone(), current, looked }))
    }

    /// What a listener needs to encrypt with it.
    ///
    /// # Errors
    /// None that is known of.
    pub fn server_config(self: &Arc<Self>) -> Result<ServerConfig, TlsError> {
        let unfit = |source| self.files.unfit(source);
        let builder = ServerConfig::builder_with_provider(Arc::new(provider())).with_safe_default_protocol_versions();
        Ok(builder.map_err(unfit)?.with_no_client_auth().with_cert_resolver(self.clone()))
    }

    /// Reads the files anew. If they can't serve, the certificate stays what it was.
    pub fn renew(&self) {
        *self.looked.lock().unwrap_or_else(PoisonError::into_inner) = look(&self.files);
        let path = self.files.certificate.display();
        match read(&self.files) {
            Ok(key) => {
                self.current.store(Arc::new(key));
                tracing::info!(certificate = %path, "the certificate was read anew");
            }
            Err(error) => {
                let why = super::failing::chain(&error);
                tracing::warn!(certificate = %path, why, "the certificate stays as it was: the new one cannot be used");
            }
        }
    }

    /// Reads the files anew if they have changed since they were looked at last.
    pub fn renew_if_changed(&self) {
        let is_same = *self.looked.lock().unwrap_or_else(PoisonError::into_inner) == look(&self.files);
        if !is_same {
            self.renew();
        }
    }
}

impl ResolvesServerCert for Certificate {
    fn resolve(&self, _: ClientHello<'_>) -> Option<Arc<CertifiedKey>> {
        Some(self.current.load_full())
    }
}

impl TlsFiles {
    fn unfit(&self, source: rustls::Error) -> TlsError {
        TlsError::Unfit { certificate: self.certificate.clone(), key: self.key.clone(), source }
    }
}

fn provider() -> rustls::crypto::CryptoProvider {
    rustls::crypto::ring::default_provider()
}

fn look(TlsFiles { certificate, key }: &TlsFiles) -> Look {
    [certificate, key].map(|path| {
        let metadata = std::fs::metadata(path).ok()?;
        Some((metadata.len(), metadata.modified().ok()))
    })
}

fn read(files: &TlsFiles) -> Result<CertifiedKey, TlsError> {
    let TlsFiles { certificate, key } = files;
    let chain = certificates(certificate)?;
    let private = PrivateKeyDer::from_pem_file(key).map_err(|source| TlsError::File {
        path: key.clone(),
        what: "a private key",
        source,
    })?;
    CertifiedKey::from_der(chain, private, &provider()).map_err(|source| files.unfit(source))
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
            Certificate::of(&files).map(|_| ())
        };
        outcome(&cert, &key).unwrap();
        assert!(matches!(outcome(&cert, &other.signing_key.serialize_pem()), Err(TlsError::Unfit { .. })));
        assert!(matches!(outcome(&key, &key), Err(TlsError::Empty(_))));
        assert!(matches!(outcome(&cert, "no key"), Err(TlsError::File { what: "a private key", .. })));
        let missing = TlsFiles { certificate: "/nonexistent/cert.pem".into(), key: "/nonexistent/key.pem".into() };
        assert!(Certificate::of(&missing).unwrap_err().to_string().contains("/nonexistent/cert.pem"));
    }
    #[test]
    fn a_certificate_is_renewed_when_its_files_change_and_kept_while_they_do_not_serve() {
        let made = || rcgen::generate_simple_self_signed(["localhost".to_owned()]).unwrap();
        let (one, other) = (made(), made());
        let (_folder, files) = in_files(&one.cert.pem(), &one.signing_key.serialize_pem());
        let certificate = Certificate::of(&files).unwrap();
        let is = |made: &rcgen::CertifiedKey<rcgen::KeyPair>| certificate.current.load().cert[0] == *made.cert.der();
        certificate.renew_if_changed();
        assert!(is(&one));
        // The certificate is written before its key.
        std::fs::write(&files.certificate, other.cert.pem() + "\n").unwrap();
        certificate.renew_if_changed();
        assert!(is(&one));
        std::fs::write(&files.key, other.signing_key.serialize_pem() + "\n").unwrap();
        certificate.renew_if_changed();
        assert!(is(&other));
        std::fs::remove_file(&files.key).unwrap();
        certificate.renew_if_changed();
        assert!(is(&other));
    }
}
