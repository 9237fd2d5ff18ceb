//! Serving the demo: the plan, read before anything is booked, and the lines that say how to sign in.

use super::Ground;
use super::sign_ins::SignIn;
use crate::cli::failure::{Exit, Failure};
use crate::cli::{Context, serve as service};
use crate::service::{LogFormat, Plan};
use std::io::Write;
use std::net::{SocketAddr, TcpListener};

/// How the demo is served. Its log is for a person at a terminal, unless the settings say otherwise.
pub fn plan(
    context: &Context,
    ground: &Ground,
    listen: Option<SocketAddr>,
) -> Result<Plan, Failure> {
    let config = &context.config;
    let mut plan = Plan::at(ground.address.clone(), ground.keys.clone(), config)?;
    if let Some(listen) = listen {
        plan.listen_on(listen, config)?;
    }
    if config.get("log_level").is_none() {
        plan.log_level = "warn".to_string();
    }
    if config.get("log_format").is_none() {
        plan.log_format = LogFormat::Text;
    }
    TcpListener::bind(plan.listen).map_err(|error| {
        Failure::failed(format!(
            "expected an address to listen on, came {}: {error}. Nothing was booked; name another \
             one, such as --listen 127.0.0.1:0 for a free port.",
            plan.listen
        ))
    })?;
    Ok(plan)
}

/// Says who may sign in and serves until told to stop.
pub fn serve(context: &Context, plan: &Plan, people: &[SignIn]) -> Result<Exit, Failure> {
    context.terminal.say(
        "Open the address below in a browser and sign in as one of these people (role, e-mail, \
         password). Ctrl-C ends it.",
    );
    let mut out = std::io::stdout().lock();
    for person in people {
        writeln!(out, "{} {} {}", person.role, person.email, person.password)?;
    }
    drop(out);
    service::serve(context, plan)
}
