//! `tarebook serve`: the service that phones, pages and programs talk to.

use super::failure::{Exit, Failure};
use super::{Context, examples, open};
use crate::service::{LogFormat, Plan, StartError, run, tables};
use crate::store::{Db, Purpose};
use clap::Args;
use std::io::Write;
use std::net::SocketAddr;

/// Serve the books over HTTP
///
/// Answers on --listen until SIGTERM or SIGINT; then it takes nobody new, books what is queued, signs
/// and ends with 0. Standard output carries one line, `listening http://ADDRESS:PORT`; the log goes
/// to standard error, one JSON object a line. A SQLite book is brought up to date by itself; for
/// PostgreSQL run `tarebook migrate` first, with the owner's URL. TLS and HTTP/2 end at a proxy
/// before it: see the settings origin and trusted_proxies.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook serve --data book\n  \
       tarebook serve --database-url postgres://tarebook@localhost/tarebook --listen 127.0.0.1:0"
))]
pub struct Serve {
    /// Address and port to listen on (default: the setting `listen`, else 127.0.0.1:8080)
    ///
    /// Port 0 takes a free one.
    #[arg(long, value_name = "ADDR")]
    listen: Option<SocketAddr>,
}

impl Serve {
    pub(super) fn run(self, context: &Context) -> Result<Exit, Failure> {
        let mut plan = Plan::of(&context.config)?;
        if let Some(listen) = self.listen {
            plan.listen_on(listen, &context.config)?;
        }
        // Brings a SQLite book up to date, and says now what would fail later.
        let mut db = open::database(context, Purpose::Write)?;
        warn_of_rights(context, &mut db)?;
        drop(db);
        serve(context, &plan)
    }
}

/// Row security stands between organisations only for a role it binds.
fn warn_of_rights(context: &Context, db: &mut Db) -> Result<(), Failure> {
    if !db.is_guarded()? {
        context.terminal.say(
            "The database role of this address passes by row security (it is a superuser or has \
             BYPASSRLS): a forgotten filter would show one organisation another's rows. Serve with \
             the narrow role of deploy/README.md instead.",
        );
    }
    Ok(())
}

/// Serves a book until told to stop.
pub fn serve(context: &Context, plan: &Plan) -> Result<Exit, Failure> {
    log(plan);
    tables::add(&plan.tables)?;
    if !plan.reached.secure {
        context.terminal.say(
            "Without TLS: the cookie of a session has a plain name. Set the setting origin to the \
             https address that browsers see, and put a proxy before this service.",
        );
    }
    run(plan, |address, metrics| {
        if let Some(metrics) = metrics {
            tracing::info!("measurements at http://{metrics}/metrics");
        }
        // Whoever waits for the line gets it now; a closed output is no reason not to serve.
        let mut out = std::io::stdout().lock();
        let _ = writeln!(out, "listening http://{address}").and_then(|()| out.flush());
    })?;
    Ok(Exit::Good)
}

fn log(plan: &Plan) {
    use tracing_subscriber::EnvFilter;
    let filter = EnvFilter::new(&plan.log_level);
    // A log that nobody takes any more (its reader was started anew) must not stop the service: by
    // itself the library would complain on standard error, which is the very thing that broke.
    let log = tracing_subscriber::fmt()
        .log_internal_errors(false)
        .with_env_filter(filter)
        .with_writer(std::io::stderr);
    let set = match plan.log_format {
        LogFormat::Json => log
            .json()
            .flatten_event(true)
            .with_current_span(false)
            .try_init(),
        LogFormat::Text => log.try_init(),
    };
    // A log that is set already is as good.
    let _ = set;
}

impl From<StartError> for Failure {
    fn from(error: StartError) -> Failure {
        match error {
            StartError::Store(error) => Failure::from(error),
            StartError::Io(why) => Failure::failed(format!("the service cannot run: {why}")),
        }
    }
}
