//! The command line as people and scripts use it: what it prints where, its exit codes, its errors word for word.

mod amend; // single fields
mod audit; // findings of the book and of files
mod bench; // card, kit, way, label
mod calculate; // thread, class, convert, tables: no store
mod care; // backup, restore, verify, compact
mod help; // help, completions, man pages, misspelt words
mod history; // log, withdraw, log --follow
mod import; // import, put, export and their faults
mod look_up; // find, show, at in every form
mod pipes; // closed pipes, standard input, terminals, half files
mod place; // folder or database
mod server; // the same commands against a running server

use assert_cmd::Command;
use std::path::{Path, PathBuf};
use std::process::Output;
use std::sync::LazyLock;
use tempfile::TempDir;

/// A book of a test's own.
pub struct Book {
    folder: TempDir,
}

/// What a command did.
#[derive(Debug)]
pub struct Done {
    pub code: i32,
    pub out: String,
    pub err: String,
}

/// The demo yard in a store, made once; tests work on copies.
static YARD: LazyLock<TempDir> = LazyLock::new(|| {
    let folder = tempfile::tempdir().unwrap();
    let mut files: Vec<PathBuf> = std::fs::read_dir("seed").unwrap().map(|entry| entry.unwrap().path()).collect();
    files.retain(|file| file.file_name().unwrap().to_string_lossy().starts_with("skua."));
    files.sort();
    let store = folder.path().join("book");
    clampbook().arg("--store").arg(store).args(["--by", "ines", "import"]).args(files).assert().success();
    folder
});

/// The program, with nothing from the environment of the test.
pub fn clampbook() -> Command {
    let mut command = Command::cargo_bin("clampbook").unwrap();
    for name in ["CLAMPBOOK_STORE", "CLAMPBOOK_BY", "CLAMPBOOK_TOKEN", "NO_COLOR", "TERM", "CLICOLOR_FORCE"] {
        command.env_remove(name);
    }
    command.env("COLUMNS", "80");
    command
}

impl Book {
    /// An empty place for a book.
    pub fn none() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    /// The demo yard.
    pub fn of_the_yard() -> Self {
        let book = Self::none();
        copy(&YARD.path().join("book"), &book.store());
        book
    }

    /// Where the store is.
    pub fn store(&self) -> PathBuf {
        self.folder.path().join("book")
    }

    /// A file beside the store.
    pub fn file(&self, name: &str, text: &str) -> PathBuf {
        let path = self.folder.path().join(name);
        std::fs::write(&path, text).unwrap();
        path
    }

    /// A command on this book, run in the folder that the store and the files are in.
    pub fn command(&self, arguments: &[&str]) -> Command {
        let mut command = clampbook();
        command.current_dir(self.folder.path()).env("CLAMPBOOK_STORE", "book").args(arguments);
        command
    }

    /// Runs a command.
    pub fn run(&self, arguments: &[&str]) -> Done {
        Done::of(&self.command(arguments).output().unwrap())
    }

    /// Runs a command with something on its standard input.
    pub fn run_with(&self, input: &str, arguments: &[&str]) -> Done {
        Done::of(&self.command(arguments).write_stdin(input).output().unwrap())
    }
}

impl Done {
    pub fn of(output: &Output) -> Self {
        let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).expect("output is UTF-8");
        Self { code: output.status.code().unwrap_or(-1), out: text(&output.stdout), err: text(&output.stderr) }
    }

    /// It ended with this exit code and said exactly this on standard error.
    #[track_caller]
    pub fn says(&self, code: i32, err: &str) {
        assert_eq!((self.code, self.err.as_str()), (code, err), "it printed: {}", self.out);
    }

    /// It ended well and in silence on standard error.
    #[track_caller]
    pub fn fine(self) -> String {
        assert_eq!((self.code, self.err.as_str()), (0, ""), "it printed: {}", self.out);
        self.out
    }

    /// Its output as JSON.
    #[track_caller]
    pub fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.out).unwrap_or_else(|error| panic!("{error}: {self:?}"))
    }
}

/// Runs a command that needs no book.
pub fn run(arguments: &[&str]) -> Done {
    Done::of(&clampbook().args(arguments).output().unwrap())
}

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy(&entry.path(), &target);
        } else {
            std::fs::copy(entry.path(), target).unwrap();
        }
    }
}

/// The joint that most examples are about.
pub const COVER: &str = "skua.diesel.raw-water-pump.cover";
/// One of its fasteners.
pub const HEX: &str = "skua.diesel.raw-water-pump.cover.hex";
