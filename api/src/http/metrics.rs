//! What is measured: requests by route pattern, method and status, and how long they took.
//!
//! Labels are the patterns of the table, never what was asked: an id in a label would let anybody
//! fill the memory, and would tell whoever reads the measurements what others have.

use prometheus_client::encoding::text::encode;
use prometheus_client::encoding::{EncodeLabelSet, LabelSetEncoder};
use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::gauge::Gauge;
use prometheus_client::metrics::histogram::Histogram;
use prometheus_client::registry::{Registry, Unit};
use std::sync::Mutex;
use std::time::Duration;

/// Measurements of this process.
pub struct Metrics {
    registry: Mutex<Registry>,
    requests: Family<Labels, Counter>,
    seconds: Family<Pattern, Histogram>,
    running: Gauge,
    mail_sent: Counter,
    mail_waiting: Gauge,
    mail_failed: Gauge,
}

/// What a request is counted under.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Labels {
    method: &'static str,
    route: String,
    status: u16,
}

/// What its time is counted under.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
struct Pattern(String);

impl Labels {
    /// The labels of an answer; `route`: its pattern.
    pub fn new(method: &str, route: &str, status: u16) -> Labels {
        // A method may be any word; only known ones become labels.
        let known = ["GET", "HEAD", "POST", "PATCH", "DELETE", "PUT", "OPTIONS"];
        let method = known
            .into_iter()
            .find(|word| *word == method)
            .unwrap_or("other");
        Labels {
            method,
            route: route.to_string(),
            status,
        }
    }
}

impl EncodeLabelSet for Labels {
    fn encode(&self, encoder: &mut LabelSetEncoder<'_>) -> Result<(), std::fmt::Error> {
        use prometheus_client::encoding::EncodeLabel;
        ("method", self.method).encode(encoder.encode_label())?;
        ("route", self.route.as_str()).encode(encoder.encode_label())?;
        ("status", u32::from(self.status)).encode(encoder.encode_label())
    }
}

impl EncodeLabelSet for Pattern {
    fn encode(&self, encoder: &mut LabelSetEncoder<'_>) -> Result<(), std::fmt::Error> {
        use prometheus_client::encoding::EncodeLabel;
        ("route", self.0.as_str()).encode(encoder.encode_label())
    }
}

impl Default for Metrics {
    fn default() -> Metrics {
        let mut registry = Registry::with_prefix("tarebook");
        let requests = Family::<Labels, Counter>::default();
        let seconds = Family::<Pattern, Histogram>::new_with_constructor(|| {
            let steps = [
                0.0005, 0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 1.0, 5.0,
            ];
            Histogram::new(steps)
        });
        let running = Gauge::default();
        registry.register("requests", "Requests answered", requests.clone());
        let about = "Time from the request's head to its answer";
        registry.register_with_unit("answer", about, Unit::Seconds, seconds.clone());
        registry.register(
            "requests_running",
            "Requests being answered",
            running.clone(),
        );
        let (mail_sent, mail_waiting, mail_failed) = of_mail(&mut registry);
        Metrics {
            registry: Mutex::new(registry),
            requests,
            seconds,
            running,
            mail_sent,
            mail_waiting,
            mail_failed,
        }
    }
}

fn of_mail(registry: &mut Registry) -> (Counter, Gauge, Gauge) {
    let (sent, waiting, failed) = (Counter::default(), Gauge::default(), Gauge::default());
    registry.register("mail_sent", "Messages sent by this process", sent.clone());
    registry.register(
        "mail_waiting",
        "Messages of all books to be sent",
        waiting.clone(),
    );
    let about = "Messages of all books that nobody took";
    registry.register("mail_failed", about, failed.clone());
    (sent, waiting, failed)
}

/// A request that runs until this is dropped.
pub struct Running(Gauge);

impl Drop for Running {
    fn drop(&mut self) {
        self.0.dec();
    }
}

impl Metrics {
    /// A request begins.
    pub fn begin(&self) -> Running {
        self.running.inc();
        Running(self.running.clone())
    }

    /// A request was answered.
    pub fn answered(&self, labels: Labels, took: Duration) {
        self.seconds
            .get_or_create(&Pattern(labels.route.clone()))
            .observe(took.as_secs_f64());
        self.requests.get_or_create(&labels).inc();
    }

    /// A round of the mail ended: so many messages were sent, so many wait, so many failed.
    pub fn mail(&self, sent: usize, waiting: i64, failed: i64) {
        self.mail_sent.inc_by(u64::try_from(sent).unwrap_or(0));
        self.mail_waiting.set(waiting);
        self.mail_failed.set(failed);
    }

    /// All measurements in the OpenMetrics text format.
    pub fn text(&self) -> String {
        let registry = self
            .registry
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner);
        let mut text = String::new();
        match encode(&mut text, &registry) {
            Ok(()) => text,
            Err(_) => "# EOF\n".to_string(),
        }
    }
}
