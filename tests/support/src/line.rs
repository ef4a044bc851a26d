//! A line to a server that can fall silent: nobody hangs up, and nothing comes any more.

use std::io::{Read, Write};
use std::net::{TcpListener, TcpStream};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::Duration;

/// A port on loopback from which everything goes on to another one, and back.
pub struct Line {
    port: u16,
    silent: Arc<AtomicBool>,
}

impl Line {
    /// To a port on loopback.
    pub fn to(port: u16) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let line = Self { port: listener.local_addr().unwrap().port(), silent: Arc::default() };
        let silent = Arc::clone(&line.silent);
        thread::spawn(move || {
            for here in listener.incoming() {
                let (here, silent) = (here.unwrap(), Arc::clone(&silent));
                thread::spawn(move || {
                    wait_while(&silent);
                    // A server that is down hangs up.
                    let Ok(there) = TcpStream::connect(("127.0.0.1", port)) else { return };
                    let (back, forth) = (there.try_clone().unwrap(), here.try_clone().unwrap());
                    let too = Arc::clone(&silent);
                    thread::spawn(move || carry(back, here, &too));
                    carry(forth, there, &silent);
                });
            }
        });
        line
    }

    pub fn port(&self) -> u16 {
        self.port
    }

    /// From now on nothing goes through, or all that was held back.
    pub fn fall_silent(&self, silent: bool) {
        self.silent.store(silent, Ordering::Release);
    }
}

fn wait_while(silent: &AtomicBool) {
    while silent.load(Ordering::Acquire) {
        thread::sleep(Duration::from_millis(10));
    }
}

fn carry(mut from: TcpStream, mut to: TcpStream, silent: &AtomicBool) {
    let mut bytes = [0; 65536];
    loop {
        let read = from.read(&mut bytes).unwrap_or(0);
        wait_while(silent);
        if read == 0 || to.write_all(&bytes[..read]).is_err() {
            let _ = to.shutdown(std::net::Shutdown::Both);
            return;
        }
    }
}
