//! Time and memory of this process and of one that it started, as the kernel counts them.
//!
//! Processor time, not the time on the wall, so that what else the machine does spoils no ratio.

use std::fs::read_to_string;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// What running a program took.
pub struct Run {
    /// On the wall.
    pub wall: f64,
    /// Of all its threads, in s.
    pub processor: f64,
    /// The most memory it ever held, in MiB.
    pub peak: f64,
}

/// Processor time that a piece of work takes in this thread, in s, the best of some attempts.
pub fn processor_time(attempts: usize, mut work: impl FnMut()) -> f64 {
    let once = || {
        let before = own_processor_time();
        work();
        own_processor_time() - before
    };
    std::iter::repeat_with(once).take(attempts).fold(f64::INFINITY, f64::min)
}

fn own_processor_time() -> f64 {
    let text = read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
    text.split(' ').next().and_then(|nanoseconds| nanoseconds.parse::<f64>().ok()).unwrap_or(0.0) * 1e-9
}

/// Runs a program to its end, whatever it finds, and leaves out what it prints.
///
/// # Errors
/// Where it cannot be started.
pub fn run(program: &str, arguments: &[&str]) -> std::io::Result<Run> {
    let before = children();
    let start = Instant::now();
    let mut child = Command::new(program).args(arguments).stdout(Stdio::null()).stderr(Stdio::null()).spawn()?;
    let status = format!("/proc/{}/status", child.id());
    let mut peak: f64 = 0.0;
    while child.try_wait()?.is_none() {
        // The kernel's mark only rises: what is read shortly before the end is nearly the end's.
        peak = peak.max(high_water(&status));
        std::thread::sleep(Duration::from_millis(2));
    }
    Ok(Run { wall: start.elapsed().as_secs_f64(), processor: children() - before, peak })
}

/// Processor time of all children that have ended, in s.
fn children() -> f64 {
    // proc(5): user and system time of waited-for children are the fields 16 and 17, in hundredths of a second.
    let text = read_to_string("/proc/self/stat").unwrap_or_default();
    let behind_name = text.rsplit(") ").next().unwrap_or("");
    let ticks: f64 = behind_name.split(' ').skip(13).take(2).filter_map(|field| field.parse::<f64>().ok()).sum();
    ticks / 100.0
}

fn high_water(status: &str) -> f64 {
    let text = read_to_string(status).unwrap_or_default();
    let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.and_then(|line| line.split_whitespace().next()?.parse::<f64>().ok()).unwrap_or(0.0) / 1024.0
}
