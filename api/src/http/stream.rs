//! Answers that are written while they are sent: reports and bundles, in constant memory.
//!
//! A thread of its own writes; a small channel holds it back as fast as the client reads. At most
//! four are made at once, each on its own connection, so that they never hold up a posting. What
//! fails before the first byte is a problem; after it the transfer is cut off, so that nobody takes
//! half a report for a whole one.

use super::answer::{Asked, PATIENCE};
use super::problem::Problem;
use crate::actions::ActionError;
use crate::actions::desk::Db;
use actix_web::web::Bytes;
use actix_web::{HttpResponse, HttpResponseBuilder};
use std::io::{self, Write};
use std::sync::Arc;
use std::time::{Duration, Instant};
use tokio::sync::mpsc::error::TrySendError;
use tokio::sync::mpsc::{Receiver, Sender, channel};

/// Bytes of a piece; the first is small, so that it comes soon.
const PIECE: usize = 64 * 1024;
const FIRST_PIECE: usize = 4 * 1024;
/// Pieces that wait for the client.
const WAITING: usize = 4;
/// A client that takes nothing for so long is given up.
const STALLED: Duration = Duration::from_secs(30);
/// Nobody reads longer than this: a reader holds a state of the whole book.
const LONGEST: Duration = Duration::from_secs(15 * 60);

/// Postings and short questions go before reports where cores are scarce: the nice value of the
/// thread that writes one.
const POLITE: i32 = 19;

type Piece = Result<Bytes, ActionError>;

/// Answers with what `write` writes.
pub async fn answer(
    asked: &Asked,
    mut builder: HttpResponseBuilder,
    write: impl FnOnce(&mut Db, &mut dyn Write) -> Result<(), ActionError> + Send + 'static,
) -> Result<HttpResponse, Problem> {
    let permit = Arc::clone(&asked.state.reports).acquire_owned();
    let permit = tokio::time::timeout(PATIENCE, permit).await;
    let Ok(Ok(permit)) = permit else {
        return Err(Problem::unavailable(
            "as many reports as may be are made already",
        ));
    };
    let (pieces, mut sent) = channel::<Piece>(WAITING);
    let state = Arc::clone(&asked.state);
    let run = move || {
        // On Linux this is of the calling thread alone. Where it is not allowed, a report is only
        // less polite.
        let _ = rustix::process::setpriority_process(None, POLITE);
        let mut pipe = Pipe {
            pieces,
            kept: Vec::new(),
            first: true,
            begun: Instant::now(),
        };
        let written = state.desk.report(|db| write(db, &mut pipe));
        let written = written.and_then(|()| pipe.flush().map_err(ActionError::from));
        if let Err(error) = written {
            // Who has gone away needs no answer.
            let _ = pipe.pieces.blocking_send(Err(error));
        }
        drop(permit);
    };
    let thread = std::thread::Builder::new()
        .name("report".to_string())
        .spawn(run);
    thread.map_err(|error| Problem::unavailable(error.to_string()))?;
    match sent.recv().await {
        None => Ok(builder.finish()),
        Some(Err(error)) => Err(Problem::from(error)),
        Some(Ok(first)) => {
            let rest = Rest {
                first: Some(first),
                sent,
                request_id: asked.request_id.clone(),
            };
            Ok(builder.streaming(futures_util::stream::unfold(rest, Rest::next)))
        }
    }
}

/// What is still to be sent.
struct Rest {
    first: Option<Bytes>,
    sent: Receiver<Piece>,
    request_id: String,
}

impl Rest {
    async fn next(mut self) -> Option<(Result<Bytes, io::Error>, Rest)> {
        let piece = match self.first.take() {
            Some(first) => Ok(first),
            None => self.sent.recv().await?,
        };
        let piece = piece.map_err(|error| {
            let request_id = self.request_id.as_str();
            tracing::error!(request_id, cause = %error, "an answer was cut off");
            io::Error::other("cut off")
        });
        Some((piece, self))
    }
}

/// Where the thread writes.
struct Pipe {
    pieces: Sender<Piece>,
    kept: Vec<u8>,
    first: bool,
    begun: Instant,
}

impl Pipe {
    fn send(&mut self) -> io::Result<()> {
        if self.begun.elapsed() > LONGEST {
            return Err(io::ErrorKind::TimedOut.into());
        }
        let mut piece = Ok(Bytes::from(std::mem::take(&mut self.kept)));
        let since = Instant::now();
        loop {
            piece = match self.pieces.try_send(piece) {
                Ok(()) => return Ok(()),
                Err(TrySendError::Closed(_)) => return Err(io::ErrorKind::BrokenPipe.into()),
                Err(TrySendError::Full(_)) if since.elapsed() > STALLED => {
                    return Err(io::ErrorKind::TimedOut.into());
                }
                Err(TrySendError::Full(piece)) => piece,
            };
            std::thread::sleep(Duration::from_millis(2));
        }
    }
}

impl Write for Pipe {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.kept.extend_from_slice(bytes);
        if self.kept.len() >= if self.first { FIRST_PIECE } else { PIECE } {
            self.first = false;
            self.send()?;
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        if self.kept.is_empty() {
            Ok(())
        } else {
            self.send()
        }
    }
}
