//! A connection that is let go when whoever asked reads nothing.
//!
//! A kernel keeps so many unread bytes and no more; what is written after them would wait for ever, and keep its place.

use std::io::{Error, ErrorKind, IoSlice, Result};
use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::time::{Sleep, sleep};

/// Fails a write of which nothing gets away for so long.
pub(super) struct Unread<T> {
    connection: T,
    patience: Duration,
    /// Runs while a write waits.
    waits: Option<Pin<Box<Sleep>>>,
}

impl<T> Unread<T> {
    pub(super) const fn new(connection: T, patience: Duration) -> Self {
        Self { connection, patience, waits: None }
    }

    /// What a write came to, within our patience.
    fn in_time<R>(&mut self, context: &mut Context<'_>, written: Poll<Result<R>>) -> Poll<Result<R>> {
        if written.is_ready() {
            self.waits = None;
            return written;
        }
        let waits = self.waits.get_or_insert_with(|| Box::pin(sleep(self.patience)));
        waits.as_mut().poll(context).map(|()| Err(Error::new(ErrorKind::TimedOut, "nobody reads")))
    }
}

impl<T: AsyncWrite + Unpin> AsyncWrite for Unread<T> {
    fn poll_write(mut self: Pin<&mut Self>, context: &mut Context<'_>, bytes: &[u8]) -> Poll<Result<usize>> {
        let written = Pin::new(&mut self.connection).poll_write(context, bytes);
        self.in_time(context, written)
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        pieces: &[IoSlice<'_>],
    ) -> Poll<Result<usize>> {
        let written = Pin::new(&mut self.connection).poll_write_vectored(context, pieces);
        self.in_time(context, written)
    }

    fn is_write_vectored(&self) -> bool {
        self.connection.is_write_vectored()
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Result<()>> {
        Pin::new(&mut self.connection).poll_flush(context)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Result<()>> {
        Pin::new(&mut self.connection).poll_shutdown(context)
    }
}

impl<T: AsyncRead + Unpin> AsyncRead for Unread<T> {
    fn poll_read(mut self: Pin<&mut Self>, context: &mut Context<'_>, into: &mut ReadBuf<'_>) -> Poll<Result<()>> {
        Pin::new(&mut self.connection).poll_read(context, into)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Instant;
    use tokio::io::{AsyncReadExt, AsyncWriteExt, duplex};

    const PATIENCE: Duration = Duration::from_secs(2);

    #[tokio::test]
    async fn whoever_reads_nothing_is_let_go_and_whoever_reads_slowly_is_not() {
        let (connection, mut far) = duplex(1);
        let mut line = Unread::new(connection, PATIENCE);
        let slow = tokio::spawn(async move {
            for _ in 0..12 {
                tokio::time::sleep(PATIENCE / 8).await;
                far.read_u8().await.unwrap();
            }
            far
        });
        line.write_all(&[7; 13]).await.unwrap();
        let _far = slow.await.unwrap();
        let begun = Instant::now();
        let ended = line.write_all(&[7; 13]).await.unwrap_err();
        assert_eq!(ended.kind(), ErrorKind::TimedOut);
        assert!(begun.elapsed() >= PATIENCE, "{:?}", begun.elapsed());
    }
}
