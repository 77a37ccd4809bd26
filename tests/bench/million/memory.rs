//! What a process holds in memory, and what it has worked.

use std::time::{Duration, Instant};

/// Bytes of a process that are in memory now, and the most that were.
pub fn resident(process: u32) -> (u64, u64) {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap_or_default();
    let of = |name: &str| {
        let line = status.lines().find_map(|line| line.strip_prefix(name));
        line.and_then(|line| line.trim().trim_end_matches(" kB").parse::<u64>().ok()).unwrap_or(0) * 1024
    };
    (of("VmRSS:"), of("VmHWM:"))
}

/// What the threads of a process have worked so far, in the kernel too.
pub fn processor_time(process: u32) -> Duration {
    /// How Linux counts: in hundredths of a second, whatever the machine.
    const TICK: Duration = Duration::from_millis(10);
    let stat = std::fs::read_to_string(format!("/proc/{process}/stat")).unwrap_or_default();
    // After the name, which may hold anything, come the fields from the third on; the two times are fields 14 and 15.
    let fields = stat.rsplit(')').next().unwrap_or_default().split_whitespace().skip(11).take(2);
    fields.filter_map(|ticks| ticks.parse::<u32>().ok()).map(|ticks| TICK * ticks).sum()
}

/// Waits until a process has hardly worked for a second, and says how long that took.
pub fn until_idle(process: u32) -> Duration {
    const WHILE: Duration = Duration::from_secs(1);
    const HARDLY: Duration = Duration::from_millis(50);
    const PATIENCE: Duration = Duration::from_secs(120);
    let (began, mut worked) = (Instant::now(), processor_time(process));
    loop {
        std::thread::sleep(WHILE);
        let before = std::mem::replace(&mut worked, processor_time(process));
        if worked - before < HARDLY || began.elapsed() > PATIENCE {
            return began.elapsed() - WHILE;
        }
    }
}

/// Waits until what this process has let go of is given back, forgets what was the most until now, and says what is left.
pub fn settled() -> u64 {
    /// It is given back after a while, and only while something else is taken and let go of.
    const PAUSE: Duration = Duration::from_millis(50);
    const STANDS: u32 = 10;
    const PATIENCE: Duration = Duration::from_secs(10);
    let (began, process) = (Instant::now(), std::process::id());
    let (mut now, mut stood) = (resident(process).0, 0);
    loop {
        std::thread::sleep(PAUSE);
        for bytes in (6..24).map(|power| 1 << power) {
            drop(std::hint::black_box(vec![1_u8; bytes]));
        }
        let before = std::mem::replace(&mut now, resident(process).0);
        stood = if now + (1 << 20) < before { 0 } else { stood + 1 };
        if stood == STANDS || began.elapsed() > PATIENCE {
            // To write this makes Linux forget it.
            let _ = std::fs::write("/proc/self/clear_refs", "5");
            return now;
        }
    }
}
