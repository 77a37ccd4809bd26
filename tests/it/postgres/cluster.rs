//! Servers of the database that a test starts, breaks and ends by itself. Each has a folder and a port of its own, and
//! runs as a user without rights.

use clampbook::catalog::DatabaseUrl;
use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// Where the programs of the database are.
const PROGRAMS: &str = "CLAMPBOOK_TEST_POSTGRES_PROGRAMS";
/// A folder that the user without rights may write.
const FOLDER: &str = "CLAMPBOOK_TEST_POSTGRES_FOLDER";
/// That user, if the tests run as somebody else.
const USER: &str = "CLAMPBOOK_TEST_POSTGRES_USER";

/// A server of the database.
#[derive(Debug)]
pub struct Cluster {
    data: PathBuf,
    pub port: u16,
}

fn variable(name: &str) -> String {
    std::env::var(name).unwrap_or_else(|_| panic!("{name} is not set. Run tests/postgres.sh"))
}

/// Runs one of the programs as the user without rights.
fn run(program: &str, arguments: &[&str]) {
    let path = format!("{}/{program}", variable(PROGRAMS));
    let mut command = match std::env::var(USER) {
        Ok(user) => {
            let mut command = Command::new("runuser");
            command.args(["-u", &user, "--", &path]);
            command
        }
        Err(_) => Command::new(path),
    };
    // The server must not keep a pipe of ours open.
    let status = command.args(arguments).stdout(Stdio::null()).stderr(Stdio::null()).status().unwrap();
    assert!(status.success(), "{program} {arguments:?}: {status}");
}

fn free_port() -> u16 {
    TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port()
}

fn folder(name: &str) -> PathBuf {
    Path::new(&variable(FOLDER)).join(format!("{name}-{}", std::process::id()))
}

impl Cluster {
    /// A server with nothing in it, whose writes survive its end.
    pub fn primary(name: &str) -> Self {
        let cluster = Self { data: folder(name), port: free_port() };
        let data = cluster.data();
        run("initdb", &["-D", data, "-A", "trust", "-U", "owner", "-E", "UTF8", "--locale", "C", "--no-sync"]);
        cluster.start();
        cluster
    }

    /// A standby that follows another server.
    pub fn standby_of(primary: &Self, name: &str) -> Self {
        let cluster = Self { data: folder(name), port: free_port() };
        let port = primary.port.to_string();
        let from = ["-D", cluster.data(), "-h", "127.0.0.1", "-p", &port, "-U", "owner", "-R", "-X", "stream"];
        run("pg_basebackup", &[&from[..], &["--checkpoint=fast", "--no-sync"]].concat());
        cluster.start();
        cluster
    }

    fn data(&self) -> &str {
        self.data.to_str().unwrap()
    }

    /// Starts it and waits until it answers.
    pub fn start(&self) {
        let options = format!(
            "-c listen_addresses=127.0.0.1 -c port={} -c unix_socket_directories= -c shared_buffers=16MB -c max_connections=40",
            self.port
        );
        run("pg_ctl", &["-D", self.data(), "-s", "-w", "-l", &format!("{}.log", self.data()), "-o", &options, "start"]);
    }

    /// Ends it as a loss of power would, as far as the processes go.
    pub fn kill(&self) {
        run("pg_ctl", &["-D", self.data(), "-s", "-w", "-m", "immediate", "stop"]);
    }

    /// Makes a standby the one that takes writes.
    pub fn promote(&self) {
        run("pg_ctl", &["-D", self.data(), "-s", "-w", "promote"]);
    }

    /// The address of one of its databases.
    pub fn url(&self, database: &str) -> DatabaseUrl {
        format!("postgres://owner@127.0.0.1:{}/{database}", self.port).parse().unwrap()
    }
}

impl Drop for Cluster {
    fn drop(&mut self) {
        if self.data.join("postmaster.pid").exists() {
            let ended = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| self.kill()));
            if ended.is_err() {
                eprintln!("{} could not be ended", self.data.display());
            }
        }
    }
}
