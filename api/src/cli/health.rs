//! `tarebook health`: asks a running service whether it can take postings.

use super::failure::{Exit, Failure};
use super::{Context, examples};
use clap::Args;
use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::time::Duration;

/// Ask a running service whether it is ready
///
/// Asks /readyz at the address the service listens on and prints what it says. Ends with 0 when it is
/// ready and with 4 when it is not or does not answer; for a supervisor or a container.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook health\n  \
       tarebook health --listen 127.0.0.1:9000"
))]
pub struct Health {
    /// Address the service listens on (default: the setting `listen`, else 127.0.0.1:8080)
    #[arg(long, value_name = "ADDR")]
    listen: Option<SocketAddr>,
}

impl Health {
    pub(super) fn run(self, context: &Context) -> Result<Exit, Failure> {
        let usual = crate::service::USUAL_ADDRESS;
        let setting = context.config.get("listen").unwrap_or(usual);
        let address = match self.listen {
            Some(address) => address,
            None => setting.parse().map_err(|_| {
                Failure::usage(format!(
                    "expected listen to be an address with a port such as {usual}, came \
                     '{setting}'."
                ))
            })?,
        };
        match ask(address) {
            Ok((200, body)) => {
                println!("{body}");
                Ok(Exit::Good)
            }
            Ok((_, body)) => {
                println!("{body}");
                let text = format!("the service at {address} is not ready");
                Err(Failure::new(Exit::NotReady, text))
            }
            Err(error) => {
                let text = format!("the service at {address} does not answer: {error}");
                Err(Failure::new(Exit::NotReady, text))
            }
        }
    }
}

/// Status and body of `/readyz`. One short request needs no client library.
fn ask(address: SocketAddr) -> std::io::Result<(u16, String)> {
    let patience = Duration::from_secs(5);
    let mut stream = TcpStream::connect_timeout(&address, patience)?;
    stream.set_read_timeout(Some(patience))?;
    stream.set_write_timeout(Some(patience))?;
    write!(stream, "GET /readyz HTTP/1.0\r\nHost: {address}\r\n\r\n")?;
    let mut answer = String::new();
    stream.take(64 * 1024).read_to_string(&mut answer)?;
    let status = answer
        .split(' ')
        .nth(1)
        .and_then(|status| status.parse().ok());
    let body = answer
        .split_once("\r\n\r\n")
        .map(|(_, body)| body.trim().to_string());
    status
        .zip(body)
        .ok_or_else(|| std::io::Error::other("the answer is no HTTP"))
}
