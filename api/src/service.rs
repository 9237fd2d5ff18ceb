//! The running service: built from the settings, started, stopped without losing anything.
//!
//! It owns what requests share (the desk with its writers, readers and signer; the door; the
//! measurements) and two listeners: one for the interface, one for measurements. At SIGTERM or
//! SIGINT it takes nobody new, answers what is running, books what is queued, signs what was booked
//! and ends.

pub mod keys;
pub mod mail;
mod plan;
pub mod tables;

pub use plan::{LogFormat, Plan, USUAL_ADDRESS, access_days};

use crate::actions::desk::Desk;
use crate::actions::desk::signer::{Signer, Signing};
use crate::auth::seal::{SEAL, Seals};
use crate::auth::{Door, access};
use crate::http::hashers::Hashers;
use crate::http::metrics::Metrics;
use crate::http::{REPORTS, State, serve};
use crate::ledger::checkpoint::SigningKey;
use crate::pages;
use crate::store::line::Line;
use crate::store::readers::Readers;
use crate::store::writer::{Clock, Writer};
use crate::store::{Db, Purpose, StoreError};
use actix_web::dev::{Server, ServerHandle};
use actix_web::{App, HttpResponse, HttpServer, web};
use mail::PostRoom;
use reports::refrigerant::Table;
use std::io;
use std::net::{SocketAddr, TcpListener};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};
use tokio::signal::unix::{SignalKind, signal};
use tokio::sync::Semaphore;

/// A request's head must arrive within this time.
const HEAD: Duration = Duration::from_secs(10);
/// A quiet connection is closed after this time.
const QUIET: Duration = Duration::from_secs(75);
/// Running requests have so many seconds to end when the service stops.
const ENDING: u64 = 30;
/// Connections that one worker holds at once.
const CONNECTIONS: usize = 4_096;
/// Who was seen is stored so often.
const SEEN: Duration = Duration::from_secs(30);

/// Why the service does not run.
#[derive(Debug)]
pub enum StartError {
    /// The store.
    Store(StoreError),
    /// An address cannot be listened on, or the machine refuses something.
    Io(String),
}

impl From<StoreError> for StartError {
    fn from(error: StoreError) -> StartError {
        StartError::Store(error)
    }
}

/// Runs the service until it is told to stop. `started` hears the addresses: the interface's, and
/// that of the measurements.
pub fn run(
    plan: &Plan,
    started: impl FnOnce(SocketAddr, Option<SocketAddr>),
) -> Result<(), StartError> {
    let listener = listen(plan.listen)?;
    let measured = plan.metrics.map(listen).transpose()?;
    let (state, signing) = build(plan)?;
    let post_room = post_room(plan, &state)?;
    let address = |listener: &TcpListener| {
        listener
            .local_addr()
            .map_err(|error| StartError::Io(error.to_string()))
    };
    started(
        address(&listener)?,
        measured.as_ref().map(address).transpose()?,
    );
    let served = actix_web::rt::System::new().block_on(attend(plan, &state, listener, measured));
    drop(post_room);
    end(state, signing);
    served.map_err(|error| StartError::Io(error.to_string()))
}

fn listen(address: SocketAddr) -> Result<TcpListener, StartError> {
    TcpListener::bind(address)
        .map_err(|error| StartError::Io(format!("{address} cannot be listened on: {error}")))
}

/// What all requests share, and the thread that signs.
fn build(plan: &Plan) -> Result<(web::Data<State>, Signing), StartError> {
    let address = plan.address.clone().impatient();
    let open = || Db::open(&address, Purpose::Write, false);
    let first = open()?;
    // SQLite has one writer; on PostgreSQL an organisation always comes to the same one.
    let count = if first.is_postgres() {
        plan.workers.clamp(2, 8)
    } else {
        1
    };
    let mut writers = Vec::with_capacity(count);
    let most = plan.postings_per_commit;
    let start = |db| Writer::lasting(db, address.clone(), Table::shipped(), Clock::real(), most);
    writers.push(start(first));
    for _ in 1..count {
        writers.push(start(open()?));
    }
    let folder = plan.keys.clone();
    let key = move |log: &str| -> Option<SigningKey> {
        let line = std::fs::read_to_string(keys::signing_key_file(&folder, log)).ok()?;
        SigningKey::parse(&line).ok()
    };
    let seals = Seals::new({
        let key = key.clone();
        move |log| key(log)?.derived(SEAL)
    });
    let line = Line::new(open()?, Some(address.clone()));
    let (signer, signing) = Signer::start(line, Box::new(key));
    let readers = Readers::new(address.clone(), plan.readers);
    let state = State {
        desk: Desk::new(readers, Readers::new(address, REPORTS), writers, signer),
        door: Door::new(plan.limits.clone()).sealing(seals),
        hashers: Hashers::new(plan.cores),
        now: crate::clock::now,
        reached: plan.reached.clone(),
        metrics: Metrics::default(),
        access_days: plan.access_days,
        sends_mail: plan.mail.is_some(),
        mail_chosen: AtomicBool::new(false),
        reports: Arc::new(Semaphore::new(REPORTS)),
        waiting: AtomicUsize::new(0),
        stopping: AtomicBool::new(false),
    };
    Ok((web::Data::new(state), signing))
}

/// The thread that makes and sends mail, where mail goes out.
fn post_room(plan: &Plan, state: &web::Data<State>) -> Result<Option<PostRoom>, StartError> {
    let Some(mail) = &plan.mail else {
        return Ok(None);
    };
    let address = plan.address.clone().impatient();
    let line = Line::new(
        Db::open(&address, Purpose::Write, false)?,
        Some(address.clone()),
    );
    let room = PostRoom::start(line, mail.clone(), state.clone().into_inner());
    let failed = |why| StartError::Io(format!("mail cannot be sent: {why}"));
    room.map(Some).map_err(failed)
}

async fn attend(
    plan: &Plan,
    state: &web::Data<State>,
    listener: TcpListener,
    measured: Option<TcpListener>,
) -> io::Result<()> {
    let interface = interface(plan, state.clone(), listener)?;
    let measurements = measured
        .map(|listener| measurements(state.clone(), listener))
        .transpose()?;
    let mut handles = vec![interface.handle()];
    handles.extend(measurements.as_ref().map(Server::handle));
    let stopper = actix_web::rt::spawn(stop_when_told(state.clone(), handles));
    let noter = actix_web::rt::spawn(note_seen(state.clone()));
    let cleaner = actix_web::rt::spawn(clean_records(state.clone()));
    let measurements = async {
        match measurements {
            Some(server) => server.await,
            None => Ok(()),
        }
    };
    let served = tokio::join!(interface, measurements);
    stopper.abort();
    noter.abort();
    cleaner.abort();
    served.0.and(served.1)
}

fn interface(plan: &Plan, state: web::Data<State>, listener: TcpListener) -> io::Result<Server> {
    let app = move || {
        App::new()
            .app_data(state.clone())
            .configure(pages::serve)
            .configure(serve)
            .configure(pages::nowhere)
    };
    let server = HttpServer::new(app)
        .workers(plan.workers)
        .max_connections(CONNECTIONS)
        .client_request_timeout(HEAD)
        .keep_alive(QUIET)
        .shutdown_timeout(ENDING)
        .disable_signals()
        .listen(listener)?;
    Ok(server.run())
}

/// The second listener: measurements, for the inside of the network.
fn measurements(state: web::Data<State>, listener: TcpListener) -> io::Result<Server> {
    const OPENMETRICS: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";
    let measure = |state: web::Data<State>| async move {
        HttpResponse::Ok()
            .content_type(OPENMETRICS)
            .body(state.metrics.text())
    };
    let app = move || {
        let resource = web::resource("/metrics").route(web::get().to(measure));
        App::new().app_data(state.clone()).service(resource)
    };
    let server = HttpServer::new(app)
        .workers(1)
        .disable_signals()
        .listen(listener)?;
    Ok(server.run())
}

/// Stops the listeners at the first signal; the second one does not wait for what is running.
async fn stop_when_told(state: web::Data<State>, handles: Vec<ServerHandle>) {
    let (term, int) = (
        signal(SignalKind::terminate()),
        signal(SignalKind::interrupt()),
    );
    let (Ok(mut term), Ok(mut int)) = (term, int) else {
        tracing::error!("signals cannot be heard; stop the process by force");
        return;
    };
    for graceful in [true, false] {
        tokio::select! {
            _ = term.recv() => {}
            _ = int.recv() => {}
        }
        tracing::info!(graceful, "stopping");
        state.stopping.store(true, Ordering::Relaxed);
        for handle in &handles {
            // The end of the servers is waited for elsewhere.
            drop(handle.stop(graceful));
        }
    }
}

/// Stores who was seen since the last time.
async fn note_seen(state: web::Data<State>) {
    loop {
        tokio::time::sleep(SEEN).await;
        let state = state.clone();
        let noted = web::block(move || write_seen(&state)).await;
        if noted.is_err() {
            tracing::warn!("no thread to note who was seen");
        }
    }
}

fn write_seen(state: &State) {
    if let Err(error) = state.desk.read(|db| state.door.write_seen(db)) {
        tracing::warn!(%error, "who was seen cannot be stored yet");
    }
}

/// Removes access records after their time, soon after the start and then once a day.
async fn clean_records(state: web::Data<State>) {
    let mut wait = SEEN;
    loop {
        tokio::time::sleep(wait).await;
        wait = Duration::from_secs(86_400);
        let state = state.clone();
        let clean = move || {
            let (days, now) = (state.access_days, (state.now)());
            match state.desk.read(|db| access::clean_all(db, days, now)) {
                Ok(removed) => tracing::info!(removed, days, "access records after their time"),
                Err(error) => tracing::warn!(%error, "old access records cannot be removed"),
            }
        };
        if web::block(clean).await.is_err() {
            tracing::warn!("no thread to remove old access records");
        }
    }
}

/// Books what is queued, signs what was booked.
fn end(state: web::Data<State>, signing: Signing) {
    write_seen(&state);
    let state = state.into_inner();
    // A report that is still written holds the state; it has a little time to notice.
    let since = Instant::now();
    while Arc::strong_count(&state) > 1 && since.elapsed() < Duration::from_secs(5) {
        std::thread::sleep(Duration::from_millis(10));
    }
    drop(state);
    drop(signing);
    tracing::info!("stopped");
}
