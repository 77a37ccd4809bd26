//! Files that appear when they are whole: never half a file.

use super::failure::Failure;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;

/// Writes a file through a neighbour that takes its name when everything is written and on the disk. A file that was
/// there before stays as it was until then.
///
/// # Errors
/// If the file cannot be written, or `write` fails; then nothing is left behind.
pub fn write_whole<T>(
    path: &Path,
    write: impl FnOnce(&mut BufWriter<File>) -> Result<T, Failure>,
) -> Result<T, Failure> {
    let failed = |error: std::io::Error| Failure::undone(format!("{} cannot be written: {error}", path.display()));
    let name = path.file_name().ok_or_else(|| {
        Failure::usage(format!("\"{}\" is no name of a file. Name the file to be written", path.display()))
    })?;
    let mut unfinished = name.to_owned();
    unfinished.push(format!(".{}.unfinished", std::process::id()));
    let unfinished = path.with_file_name(unfinished);
    let written = || {
        let mut out = BufWriter::new(File::create(&unfinished).map_err(failed)?);
        let result = write(&mut out)?;
        out.flush().map_err(failed)?;
        out.get_ref().sync_all().map_err(failed)?;
        std::fs::rename(&unfinished, path).map_err(failed)?;
        Ok(result)
    };
    written().inspect_err(|_| {
        // What cannot be removed was never made, or is beyond our reach; the failure itself is told.
        let _ = std::fs::remove_file(&unfinished);
    })
}

/// Writes these bytes as a whole file.
///
/// # Errors
/// If the file cannot be written.
pub fn write_bytes(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    let failed = |error: std::io::Error| Failure::undone(format!("{} cannot be written: {error}", path.display()));
    write_whole(path, |out| out.write_all(bytes).map_err(failed))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_that_fails_half_way_leaves_the_old_one() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("export.csv");
        write_bytes(&path, b"old").unwrap();
        let failed: Result<(), Failure> = write_whole(&path, |out| {
            out.write_all(b"half").unwrap();
            Err(Failure::undone("the rest is missing"))
        });
        assert!(failed.is_err());
        assert_eq!(std::fs::read(&path).unwrap(), b"old");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
