//! Encrypted connections: the server's certificate is always checked, name and all.

use rustls::pki_types::CertificateDer;
use rustls::pki_types::pem::PemObject;
use rustls::{ClientConfig, RootCertStore};
use std::path::Path;
use std::sync::Arc;
use tokio_postgres_rustls::MakeRustlsConnect;

/// What encrypts connections: trusts the certificates of a file, or those that this machine trusts.
///
/// # Errors
/// If there is nobody to trust.
pub fn connector(roots: Option<&Path>, is_wanted: bool) -> Result<MakeRustlsConnect, String> {
    let mut trusted = RootCertStore::empty();
    if is_wanted {
        match roots {
            Some(path) => add_file(&mut trusted, path)?,
            None => {
                trusted.add_parsable_certificates(rustls_native_certs::load_native_certs().certs);
            }
        }
        if trusted.is_empty() {
            return Err("no certificate is trusted on this machine; name a file with sslrootcert=FILE".to_owned());
        }
    }
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let builder = ClientConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()
        .map_err(|error| error.to_string())?;
    Ok(MakeRustlsConnect::new(builder.with_root_certificates(trusted).with_no_client_auth()))
}

fn add_file(trusted: &mut RootCertStore, path: &Path) -> Result<(), String> {
    let unreadable = |error: &dyn std::fmt::Display| format!("sslrootcert={}: {error}", path.display());
    for certificate in CertificateDer::pem_file_iter(path).map_err(|error| unreadable(&error))? {
        let certificate = certificate.map_err(|error| unreadable(&error))?;
        trusted.add(certificate).map_err(|error| unreadable(&error))?;
    }
    Ok(())
}
