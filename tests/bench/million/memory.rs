//! What a process holds in memory.

/// Bytes of a process that are in memory now, and the most that were.
pub fn resident(process: u32) -> (u64, u64) {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap_or_default();
    let of = |name: &str| {
        let line = status.lines().find_map(|line| line.strip_prefix(name));
        line.and_then(|line| line.trim().trim_end_matches(" kB").parse::<u64>().ok()).unwrap_or(0) * 1024
    };
    (of("VmRSS:"), of("VmHWM:"))
}
