//! `man`: the manual, made from the same definitions as the help.

use super::failure::Failure;
use super::output::Output;
use super::whole_file::write_bytes;
use clap::Command;
use std::path::PathBuf;

/// The manual as a man page.
///
/// Of clampbook itself, of one command, or with --output all pages into a folder.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// A command; without it, clampbook itself.
    #[arg(value_name = "COMMAND")]
    command: Option<String>,
    /// Write all pages into this folder.
    #[arg(short, long, value_name = "FOLDER", conflicts_with = "command")]
    output: Option<PathBuf>,
}

/// Writes one page to standard output, or all of them into a folder.
///
/// # Errors
/// If there is no such command, or the pages cannot be written.
pub fn run(arguments: &Arguments, output: &Output) -> Result<(), Failure> {
    let pages = pages()?;
    let Some(folder) = &arguments.output else {
        let name =
            arguments.command.as_ref().map_or_else(|| "clampbook".to_owned(), |name| format!("clampbook-{name}"));
        let page = pages.iter().find(|(page, _)| *page == name);
        let (_, text) = page.ok_or_else(|| {
            Failure::usage(format!("there is no command \"{}\"", arguments.command.as_deref().unwrap_or_default()))
        })?;
        return output.write(text);
    };
    let failed = |error| Failure::undone(format!("{} cannot be made: {error}", folder.display()));
    std::fs::create_dir_all(folder).map_err(failed)?;
    for (name, text) in &pages {
        write_bytes(&folder.join(format!("{name}.1")), text)?;
    }
    eprintln!("{} pages written to {}", pages.len(), folder.display());
    Ok(())
}

/// Every page: its name and its text.
fn pages() -> Result<Vec<(String, Vec<u8>)>, Failure> {
    let mut whole = super::command().disable_help_subcommand(true);
    whole.build();
    let mut pages = vec![("clampbook".to_owned(), page(whole.clone(), "clampbook")?)];
    for command in whole.get_subcommands().filter(|command| command.get_name() != "help") {
        let name = format!("clampbook-{}", command.get_name());
        pages.push((name.clone(), page(command.clone(), &name)?));
    }
    Ok(pages)
}

fn page(command: Command, name: &str) -> Result<Vec<u8>, Failure> {
    let mut text = Vec::new();
    let man = clap_mangen::Man::new(command).title(name.to_uppercase()).section("1").date(DATE).source("clampbook");
    man.render(&mut text).map_err(|error| Failure::undone(format!("the page of {name} cannot be made: {error}")))?;
    Ok(tidied(&String::from_utf8_lossy(&text)).into_bytes())
}

/// The day that the pages carry; a page must have one, and the same definitions must make the same page.
const DATE: &str = "2026-11-25";

/// A page without what its readers call bad style: spaces at the ends of lines, and lines of text that are too long.
fn tidied(page: &str) -> String {
    let mut out = String::new();
    for line in page.lines() {
        let line = line.trim_end();
        if line.starts_with(['.', '\'']) {
            out += line;
            out.push('\n');
            continue;
        }
        for piece in pieces(line, 78) {
            // A line of text that begins with a dot or an apostrophe would be read as a request.
            if piece.starts_with(['.', '\'']) {
                out += "\\&";
            }
            out += &piece;
            out.push('\n');
        }
    }
    out
}

/// A line of text broken at spaces, so that no piece has more bytes than `most`, where its words allow.
fn pieces(line: &str, most: usize) -> Vec<String> {
    let mut pieces = vec![String::new()];
    for word in line.split(' ') {
        match pieces.last_mut().filter(|piece| piece.is_empty() || piece.len() + 1 + word.len() <= most) {
            Some(piece) if piece.is_empty() => piece.push_str(word),
            Some(piece) => *piece += &format!(" {word}"),
            None => pieces.push(word.to_owned()),
        }
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_lines_are_broken_and_none_becomes_a_request() {
        let text = format!(".TH A 1 \n{} .hidden", "x".repeat(77));
        assert_eq!(tidied(&text), format!(".TH A 1\n{}\n\\&.hidden\n", "x".repeat(77)));
    }
}
