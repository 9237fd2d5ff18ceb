//! `tarebook check-config`: are the settings right, before a service is started with them?

use super::failure::{Exit, Failure};
use super::{Context, examples};
use crate::config::{Holds, SETTINGS};
use crate::service::Plan;
use clap::Args;

/// Check the settings of a service
///
/// Reads flags, environment and settings file as `serve` would, and prints every setting that is set
/// (never a secret's value) and where the service would listen. Ends with 2 and a sentence when a
/// setting is wrong. Nothing is opened or started.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook check-config --config /etc/tarebook/tarebook.toml\n  \
       TAREBOOK_LISTEN=0.0.0.0:8080 tarebook check-config --data book"
))]
pub struct CheckConfig {}

impl CheckConfig {
    pub(super) fn run(self, context: &Context) -> Result<Exit, Failure> {
        let plan = Plan::of(&context.config)?;
        for setting in SETTINGS {
            let Some(value) = context.config.get(setting.key) else {
                continue;
            };
            match setting.holds {
                Holds::Secret => println!("{} = (set)", setting.key),
                Holds::Text | Holds::YesNo => println!("{} = {value}", setting.key),
            }
        }
        println!(
            "listens on http://{} with {} workers",
            plan.listen, plan.workers
        );
        if let Some(metrics) = plan.metrics {
            println!("measurements at http://{metrics}/metrics");
        }
        match &plan.mail {
            Some(mail) => println!("mail goes out {} as {}", mail.shown(), mail.from),
            None => println!("no mail goes out"),
        }
        let cookies = if plan.reached.secure {
            "__Host-, Secure"
        } else {
            "plain, without TLS"
        };
        println!(
            "books at {}, keys in {}",
            plan.address.shown(),
            plan.keys.display()
        );
        println!("cookies: {cookies}");
        Ok(Exit::Good)
    }
}
