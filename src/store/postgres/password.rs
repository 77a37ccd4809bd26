//! Passwords that are not in the address: `PGPASSWORD`, or a line of the password file.

use std::path::{Path, PathBuf};
use tokio_postgres::Config;
use tokio_postgres::config::Host;

/// The password for a connection, if one is kept anywhere.
pub fn found(config: &Config) -> Option<String> {
    if let Ok(password) = std::env::var("PGPASSWORD") {
        return Some(password);
    }
    let at_home = || std::env::var_os("HOME").map(|home| Path::new(&home).join(".pgpass"));
    let path = std::env::var_os("PGPASSFILE").map(PathBuf::from).or_else(at_home)?;
    if is_open_to_others(&path) {
        tracing::warn!(path = %path.display(), "the password file is passed over: others may read it. Do chmod 600");
        return None;
    }
    in_file(&std::fs::read_to_string(path).ok()?, config)
}

#[cfg(unix)]
fn is_open_to_others(path: &Path) -> bool {
    use std::os::unix::fs::PermissionsExt;
    std::fs::metadata(path).is_ok_and(|meta| meta.permissions().mode() & 0o077 != 0)
}

#[cfg(not(unix))]
fn is_open_to_others(_path: &Path) -> bool {
    false
}

/// The password in the first line that fits: `host:port:database:user:password`, `*` for any.
fn in_file(text: &str, config: &Config) -> Option<String> {
    let host = match config.get_hosts().first() {
        Some(Host::Tcp(name)) => name.clone(),
        _ => "localhost".to_owned(),
    };
    let port = config.get_ports().first().copied().unwrap_or(5432).to_string();
    let user = config.get_user().unwrap_or_default();
    let wanted = [host.as_str(), &port, config.get_dbname().unwrap_or(user), user];
    text.lines().filter(|line| !line.starts_with('#')).find_map(|line| {
        let fields = fields(line);
        let fits =
            fields.len() == 5 && fields.iter().zip(wanted).all(|(field, wanted)| field == "*" || field == wanted);
        fits.then(|| fields[4].clone())
    })
}

/// The fields of a line; `\:` and `\\` stand for themselves.
fn fields(line: &str) -> Vec<String> {
    let mut fields = vec![String::new()];
    let mut characters = line.chars();
    while let Some(character) = characters.next() {
        match character {
            ':' if fields.len() < 5 => fields.push(String::new()),
            '\\' => fields.last_mut().into_iter().for_each(|field| field.extend(characters.next())),
            other => fields.last_mut().into_iter().for_each(|field| field.push(other)),
        }
    }
    fields
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_line_that_fits_counts() {
        let text = "# who:may\ndb:5432:other:shop:no\ndb:*:book:shop:a\\:b\\\\c\n*:*:*:*:any\n";
        let config = |url: &str| url.parse::<Config>().unwrap();
        assert_eq!(in_file(text, &config("postgres://shop@db/book")).unwrap(), "a:b\\c");
        assert_eq!(in_file(text, &config("postgres://runa@db/book")).unwrap(), "any");
        assert_eq!(in_file("db:5433:book:shop:x", &config("postgres://shop@db/book")), None);
    }
}
