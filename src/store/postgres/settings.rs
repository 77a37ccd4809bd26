//! From the address of a database to the settings of a connection.
//!
//! Beyond what the driver reads from an address: `sslrootcert`, `sslmode=verify-full`, and passwords from
//! `PGPASSWORD` or the password file (`PGPASSFILE`, or `.pgpass` at home).

use super::tls;
use crate::store::engine::EngineError;
use crate::store::place::DatabaseUrl;
use std::path::PathBuf;
use std::time::Duration;
use tokio_postgres::Config;
use tokio_postgres::config::{Host, SslMode, TargetSessionAttrs};
use tokio_postgres_rustls::MakeRustlsConnect;

/// The settings of connections to one database.
#[derive(Clone)]
pub struct Settings {
    /// What the driver needs.
    pub config: Config,
    /// How connections are encrypted, if they are.
    pub tls: MakeRustlsConnect,
    /// User, hosts and database, for messages.
    pub place: String,
}

impl Settings {
    /// Reads an address.
    ///
    /// # Errors
    /// If it can't be read; the message never holds a password.
    pub fn of(url: &DatabaseUrl, patience: Duration, writes: bool) -> Result<Self, EngineError> {
        let (address, own) = Own::taken_out_of(url.secret());
        let unreadable = |why: &dyn std::fmt::Display| {
            EngineError::Refused(format!("{url}: the address of the database can't be read ({why})"))
        };
        let mut config: Config = address.parse().map_err(|error: tokio_postgres::Error| {
            unreadable(&std::error::Error::source(&error).map_or_else(|| error.to_string(), ToString::to_string))
        })?;
        if config.get_hosts().is_empty() && config.get_hostaddrs().is_empty() {
            config.host(std::env::var("PGHOST").unwrap_or_else(|_| "/var/run/postgresql".to_owned()));
        }
        let to_connect = config.get_connect_timeout().copied().unwrap_or(patience);
        config.application_name("clampbook").connect_timeout(to_connect);
        config.keepalives_idle(Duration::from_secs(10)).tcp_user_timeout(patience.max(Duration::from_secs(5)) * 2);
        if writes && config.get_hosts().len() > 1 {
            config.target_session_attrs(TargetSessionAttrs::ReadWrite);
        }
        let stays_here = config.get_hosts().iter().all(is_of_this_machine);
        config.ssl_mode(match config.get_ssl_mode() {
            _ if own.checks => SslMode::Require,
            // What leaves the machine is encrypted unless that was ruled out in so many words.
            SslMode::Prefer if !stays_here => SslMode::Require,
            SslMode::Prefer => SslMode::Disable,
            other => other,
        });
        let tls = tls::connector(own.roots.as_deref(), config.get_ssl_mode() == SslMode::Require)
            .map_err(|why| unreadable(&why))?;
        if config.get_password().is_none()
            && let Some(password) = super::password::found(&config)
        {
            config.password(password);
        }
        Ok(Self { config, tls, place: url.to_string() })
    }
}

/// Parameters of an address that the driver does not know.
#[derive(Debug, Default, PartialEq, Eq)]
struct Own {
    roots: Option<PathBuf>,
    checks: bool,
}

impl Own {
    /// The address without them.
    fn taken_out_of(address: &str) -> (String, Self) {
        let Some((front, query)) = address.split_once('?') else { return (address.to_owned(), Self::default()) };
        let mut own = Self::default();
        let rest: Vec<&str> = query
            .split('&')
            .filter(|pair| match pair.split_once('=') {
                Some(("sslrootcert", path)) => {
                    own.roots = Some(PathBuf::from(path.replace("%2F", "/").replace("%2f", "/")));
                    false
                }
                Some(("sslmode", "verify-full" | "verify-ca")) => {
                    own.checks = true;
                    false
                }
                _ => true,
            })
            .collect();
        let mark = if rest.is_empty() { "" } else { "?" };
        (format!("{front}{mark}{}", rest.join("&")), own)
    }
}

fn is_of_this_machine(host: &Host) -> bool {
    match host {
        Host::Unix(_) => true,
        Host::Tcp(name) => {
            name == "localhost" || name.parse::<std::net::IpAddr>().is_ok_and(|address| address.is_loopback())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settings(text: &str) -> Settings {
        Settings::of(&text.parse().unwrap(), Duration::from_secs(1), true).unwrap()
    }

    #[test]
    fn what_leaves_the_machine_is_encrypted() {
        let mode = |text: &str| settings(text).config.get_ssl_mode();
        assert_eq!(mode("postgres://shop@db.yard/book"), SslMode::Require);
        assert_eq!(mode("postgres://shop@127.0.0.1,db.yard/book"), SslMode::Require);
        assert_eq!(mode("postgres://shop@db.yard/book?sslmode=disable"), SslMode::Disable);
        assert_eq!(mode("postgres://shop@127.0.0.1/book"), SslMode::Disable);
        assert_eq!(mode("postgres://shop@127.0.0.1/book?sslmode=verify-full"), SslMode::Require);
    }

    #[test]
    fn own_parameters_are_taken_out() {
        let (address, own) =
            Own::taken_out_of("postgres://db/book?sslrootcert=%2Fetc%2Fyard.pem&user=shop&sslmode=verify-full");
        assert_eq!(address, "postgres://db/book?user=shop");
        assert_eq!(own, Own { roots: Some("/etc/yard.pem".into()), checks: true });
    }

    #[test]
    fn an_address_that_cannot_be_read_is_told_without_its_password() {
        let url = "postgres://shop:s3cr3t@db/book?colour=red".parse().unwrap();
        let Err(EngineError::Refused(why)) = Settings::of(&url, Duration::from_secs(1), true) else { panic!() };
        assert!(why.contains("colour") && !why.contains("s3cr3t"), "{why}");
    }
}
