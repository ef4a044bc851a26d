//! The port on which a rig's bytes leave: a pseudo-terminal or TCP.
//!
//! A port behaves as the far end of a serial line does: it never waits for a reader, and what nobody takes is lost.

use crate::stream::Source;
use std::io;
use std::path::PathBuf;

/// Where a rig is to be found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// A pseudo-terminal of its own, with a link to it that keeps its name when the terminal changes.
    Terminal {
        /// The link to keep.
        link: Option<PathBuf>,
    },
    /// A TCP address to listen at, such as `127.0.0.1:0`.
    Tcp(String),
}

/// An open port.
#[derive(Debug)]
pub(super) enum Port {
    /// A pseudo-terminal.
    #[cfg(unix)]
    Terminal(terminal::Terminal),
    /// TCP clients.
    Tcp(Listener),
}

/// Whether a port can still be opened at its other end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Usable {
    Yes,
    /// Its last reader claimed it for itself and was killed: close it and open another.
    #[cfg_attr(not(unix), expect(dead_code, reason = "of terminals alone"))]
    No,
}

impl Place {
    /// Where a rig is to be found that was given no place: on a pseudo-terminal, or on a system that has none at a TCP port of
    /// this machine alone.
    #[must_use]
    pub fn usual() -> Self {
        if cfg!(unix) { Self::Terminal { link: None } } else { Self::local() }
    }

    /// Any free TCP port, reached from this machine alone.
    #[must_use]
    pub fn local() -> Self {
        Self::Tcp("127.0.0.1:0".to_owned())
    }
}

impl Port {
    /// Opens a port.
    pub(super) fn open(place: &Place) -> io::Result<Self> {
        match place {
            #[cfg(unix)]
            Place::Terminal { link } => terminal::Terminal::open(link.as_deref()).map(Self::Terminal),
            #[cfg(not(unix))]
            Place::Terminal { .. } => {
                Err(io::Error::new(io::ErrorKind::Unsupported, crate::words::rig::no_terminals()))
            }
            Place::Tcp(address) => Listener::open(address).map(Self::Tcp),
        }
    }

    /// What to open at the other end: a device, or host and port.
    pub(super) fn name(&self) -> String {
        match self {
            #[cfg(unix)]
            Self::Terminal(terminal) => terminal.name().to_owned(),
            Self::Tcp(listener) => listener.name.clone(),
        }
    }

    /// As what the other end is opened.
    pub(super) fn source(&self) -> Source {
        match self {
            #[cfg(unix)]
            Self::Terminal(_) => Source::Port(self.name()),
            Self::Tcp(_) => Source::Tcp(self.name()),
        }
    }

    /// Appends what the other end has sent.
    pub(super) fn receive(&mut self, heard: &mut Vec<u8>) {
        match self {
            #[cfg(unix)]
            Self::Terminal(terminal) => terminal.receive(heard),
            Self::Tcp(listener) => listener.receive(heard),
        }
    }

    /// Sends what is taken at once, and leaves in `bytes` what the reader of a terminal has no room for. Comes after
    /// [`Port::receive`], which sees who is there.
    pub(super) fn send(&mut self, bytes: &mut Vec<u8>) -> Usable {
        match self {
            #[cfg(unix)]
            Self::Terminal(terminal) => return terminal.send(bytes),
            Self::Tcp(listener) => listener.send(bytes),
        }
        bytes.clear();
        Usable::Yes
    }
}

/// TCP: everyone who is connected gets the bytes.
#[derive(Debug)]
pub(super) struct Listener {
    listener: std::net::TcpListener,
    name: String,
    clients: Vec<std::net::TcpStream>,
}

impl Listener {
    fn open(address: &str) -> io::Result<Self> {
        let listener = std::net::TcpListener::bind(address)?;
        listener.set_nonblocking(true)?;
        let name = listener.local_addr()?.to_string();
        Ok(Self { listener, name, clients: Vec::new() })
    }

    /// Takes in who wants to connect, and what those who are connected say.
    fn receive(&mut self, heard: &mut Vec<u8>) {
        use std::io::Read;
        while let Ok((client, _)) = self.listener.accept() {
            if client.set_nonblocking(true).and_then(|()| client.set_nodelay(true)).is_ok() {
                self.clients.push(client);
            }
        }
        // A connection that has failed shows when it is written to.
        for client in &mut self.clients {
            let _ = client.read_to_end(heard);
        }
    }

    fn send(&mut self, bytes: &[u8]) {
        use std::io::Write;
        self.clients.retain_mut(|client| match client.write(bytes) {
            Ok(_) => true,
            Err(error) => matches!(error.kind(), io::ErrorKind::WouldBlock | io::ErrorKind::Interrupted),
        });
    }
}

/// A name for an address that TCP may be opened at again: the port that was given out first.
pub(super) fn settled(place: &Place, port: &Port) -> Place {
    match (place, port) {
        (Place::Tcp(_), Port::Tcp(listener)) => Place::Tcp(listener.name.clone()),
        _ => place.clone(),
    }
}

#[cfg(unix)]
mod terminal {
    //! A pseudo-terminal. The other end is opened and closed by whoever reads, as often as they like.

    use super::{PathBuf, Usable, io};
    use rustix::fs::{Mode, OFlags};
    use rustix::pty::OpenptFlags;
    use rustix::termios::{OptionalActions, QueueSelector};
    use std::os::fd::OwnedFd;
    use std::path::Path;

    #[derive(Debug)]
    pub(crate) struct Terminal {
        master: OwnedFd,
        name: String,
        link: Option<PathBuf>,
        /// Whether somebody has the other end open now.
        open: bool,
        listened_to: bool,
        /// Sends since somebody was last seen at the other end.
        idle: u32,
    }

    /// After so many sends to nobody, look whether a reader too quick to be seen has left something behind.
    const LOOK_AGAIN: u32 = 100;

    impl Terminal {
        pub(crate) fn open(link: Option<&Path>) -> io::Result<Self> {
            let master = rustix::pty::openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC)?;
            rustix::pty::grantpt(&master)?;
            rustix::pty::unlockpt(&master)?;
            let name = rustix::pty::ptsname(&master, Vec::new())?.to_string_lossy().into_owned();
            rustix::fs::fcntl_setfl(&master, OFlags::NONBLOCK)?;
            make_raw(&open_other_end(&name)?)?;
            if let Some(link) = link {
                point(link, &name)?;
            }
            Ok(Self { master, name, link: link.map(Path::to_owned), open: false, listened_to: false, idle: 0 })
        }

        pub(crate) fn name(&self) -> &str {
            &self.name
        }

        /// Writes while somebody has the other end open, and leaves what there is no room for.
        pub(crate) fn send(&mut self, bytes: &mut Vec<u8>) -> Usable {
            let listened_to = self.open;
            self.idle = if listened_to { 0 } else { self.idle.wrapping_add(1) };
            let left_behind = !listened_to && (self.listened_to || self.idle.is_multiple_of(LOOK_AGAIN));
            if left_behind && self.forget_last_reader().is_err() {
                return Usable::No;
            }
            self.listened_to = listened_to;
            if listened_to {
                // A full buffer takes none.
                let taken = rustix::io::write(&self.master, bytes).unwrap_or_default();
                bytes.drain(..taken);
            } else {
                bytes.clear();
            }
            Usable::Yes
        }

        /// Appends what the other end has sent; the system answers EIO while nobody has it open.
        pub(crate) fn receive(&mut self, heard: &mut Vec<u8>) {
            let mut bytes = [0; 256];
            self.open = loop {
                match rustix::io::read(&self.master, &mut bytes) {
                    Ok(0) => break false,
                    Ok(count) => heard.extend_from_slice(bytes.get(..count).unwrap_or_default()),
                    Err(rustix::io::Errno::INTR) => {}
                    Err(error) => break error == rustix::io::Errno::AGAIN,
                }
            };
        }

        /// What the last reader left unread is not for the next one, nor is its claim to have the line alone: a
        /// process that was killed cannot take that back itself, and only the superuser can for it.
        fn forget_last_reader(&self) -> io::Result<()> {
            let other_end = open_other_end(&self.name)?;
            rustix::termios::tcflush(&other_end, QueueSelector::IFlush)?;
            Ok(rustix::termios::ioctl_tiocnxcl(&other_end)?)
        }
    }

    impl Drop for Terminal {
        fn drop(&mut self) {
            if let Some(link) = self.link.take().filter(|link| points_to(link, &self.name)) {
                // Somebody may have removed it before; gone is gone.
                let _ = std::fs::remove_file(link);
            }
        }
    }

    fn open_other_end(name: &str) -> io::Result<OwnedFd> {
        let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC | OFlags::NONBLOCK;
        Ok(rustix::fs::open(name, flags, Mode::empty())?)
    }

    /// No echo, no line editing, no translation of line ends; the terminal keeps this for every later reader.
    fn make_raw(other_end: &OwnedFd) -> io::Result<()> {
        let mut settings = rustix::termios::tcgetattr(other_end)?;
        settings.make_raw();
        Ok(rustix::termios::tcsetattr(other_end, OptionalActions::Now, &settings)?)
    }

    fn points_to(link: &Path, name: &str) -> bool {
        std::fs::read_link(link).is_ok_and(|target| target == Path::new(name))
    }

    /// Makes a link point to the terminal, never in the place of something that is no link.
    fn point(link: &Path, name: &str) -> io::Result<()> {
        match std::fs::symlink_metadata(link) {
            Ok(found) if !found.file_type().is_symlink() => {
                return Err(io::Error::new(io::ErrorKind::AlreadyExists, crate::words::rig::not_a_link(link)));
            }
            _ => {}
        }
        // Made beside it and moved over it, so that the name is never missing.
        let mut beside = link.as_os_str().to_owned();
        beside.push(format!(".{}", std::process::id()));
        std::os::unix::fs::symlink(name, &beside)?;
        std::fs::rename(&beside, link)
    }
}
