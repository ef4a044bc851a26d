//! What a Unix system tells of a serial port before it is opened.

use super::Obstacle;
use rustix::fs::{Access, AtFlags, CWD, OFlags};
use std::fs::{File, Metadata, OpenOptions, TryLockError};
use std::io::{self, ErrorKind};
use std::os::unix::fs::{FileTypeExt, MetadataExt, OpenOptionsExt};
use std::path::Path;

/// What bars the path before anyone tries to open it.
pub(super) fn barred(path: &str) -> Option<Obstacle> {
    let found = match std::fs::metadata(path) {
        Ok(found) => found,
        Err(error) if error.kind() == ErrorKind::PermissionDenied => {
            return Some(Obstacle::NotPermitted { group: None });
        }
        Err(_) => return Some(Obstacle::Gone),
    };
    if !found.file_type().is_char_device() {
        return Some(Obstacle::NotSerial);
    }
    match rustix::fs::accessat(CWD, path, Access::READ_OK | Access::WRITE_OK, AtFlags::EACCESS) {
        Err(rustix::io::Errno::ACCESS) => Some(not_permitted(&found)),
        _ => None,
    }
}

fn not_permitted(found: &Metadata) -> Obstacle {
    let groups = std::fs::read_to_string("/etc/group").unwrap_or_default();
    Obstacle::NotPermitted { group: group_to_join(found.mode(), found.gid(), &groups) }
}

/// The name of the device's group, if being in it helps.
fn group_to_join(mode: u32, gid: u32, groups: &str) -> Option<String> {
    const GROUP_READS_AND_WRITES: u32 = 0o060;
    if mode & GROUP_READS_AND_WRITES != GROUP_READS_AND_WRITES {
        return None;
    }
    groups.lines().find_map(|line| {
        let mut fields = line.split(':');
        let name = fields.next()?;
        (fields.nth(1)?.parse() == Ok(gid)).then(|| name.to_owned())
    })
}

/// Who has the path open, where the system shows it: own processes always, others only to the administrator.
pub(super) fn user_of(path: &str) -> Option<String> {
    let device = std::fs::metadata(path).ok()?.rdev();
    let processes = std::fs::read_dir("/proc").ok()?;
    let own = std::process::id().to_string();
    processes.flatten().find_map(|process| {
        let number = process.file_name().into_string().ok().filter(|name| name.bytes().all(|b| b.is_ascii_digit()))?;
        holds(&process.path(), device).then(|| {
            if number == own {
                return "this program itself".to_owned();
            }
            let name = std::fs::read_to_string(process.path().join("comm")).unwrap_or_default();
            format!("{} (process {number})", name.trim_end())
        })
    })
}

fn holds(process: &Path, device: u64) -> bool {
    let Ok(open) = std::fs::read_dir(process.join("fd")) else { return false };
    open.flatten().any(|entry| {
        // Only what the link names is looked at: asking a file of another process for more could wait on it.
        let is_device = std::fs::read_link(entry.path()).is_ok_and(|target| target.starts_with("/dev"));
        is_device && std::fs::metadata(entry.path()).is_ok_and(|found| found.rdev() == device)
    })
}

/// Tries the door without forcing it, and holds it until the port is open.
///
/// A second opener that takes the line's exclusive mark and then fails on its lock removes the first one's mark as
/// it leaves. So the lock is asked for first, on a descriptor that never touches the mark.
pub(super) fn probe(path: &str) -> Result<File, Obstacle> {
    let flags = (OFlags::NOCTTY | OFlags::NONBLOCK).bits() as i32;
    let file = OpenOptions::new().read(true).write(true).custom_flags(flags).open(path);
    let file = file.map_err(|error| obstacle_of(&error, path))?;
    if !rustix::termios::isatty(&file) {
        return Err(Obstacle::NotSerial);
    }
    match file.try_lock() {
        Err(TryLockError::WouldBlock) => return Err(Obstacle::InUse { by: user_of(path) }),
        // A file system without locks has no lock in the way.
        Err(TryLockError::Error(_)) => {}
        Ok(()) => {
            let _ = file.unlock();
        }
    }
    Ok(file)
}

fn obstacle_of(error: &io::Error, path: &str) -> Obstacle {
    match error.kind() {
        ErrorKind::ResourceBusy => Obstacle::InUse { by: user_of(path) },
        ErrorKind::PermissionDenied => {
            std::fs::metadata(path).map_or(Obstacle::NotPermitted { group: None }, |found| not_permitted(&found))
        }
        _ => Obstacle::Gone,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const GROUPS: &str = "root:x:0:\ndialout:x:20:pilot\nuucp:x:10:\n";

    #[test]
    fn the_group_to_join_is_the_device_nodes() {
        assert_eq!(group_to_join(0o020_660, 20, GROUPS).as_deref(), Some("dialout"));
        assert_eq!(group_to_join(0o020_660, 99, GROUPS), None, "a group without a name");
        assert_eq!(group_to_join(0o020_600, 20, GROUPS), None, "joining would not help");
    }

    #[test]
    fn what_is_no_serial_port_is_told_apart_from_what_is_gone() {
        assert_eq!(barred("/dev/no-such-port"), Some(Obstacle::Gone));
        assert_eq!(barred("/etc/hostname"), Some(Obstacle::NotSerial));
        assert_eq!(probe("/dev/null").err(), Some(Obstacle::NotSerial));
    }
}
