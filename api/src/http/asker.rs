//! Who asks: from the cookie of a session or a bearer token, one of them a request.
//!
//! A request that a browser sends by itself must come from our own pages: other sites may make it
//! send our cookie along. Bearer tokens are sent by programs on purpose and need no such check.

use super::problem::Problem;
use super::{Reached, State};
use crate::actions::StoreError;
use crate::actions::desk::{Bounds, Db, Poster};
use crate::actions::permit::{self, Deed, Reach};
use crate::actions::show::{Own, Sees};
use crate::auth::token::Scopes;
use crate::auth::{Door, Shown, SignedIn, session, token};
use crate::ledger::actor::{Actor, Role, Via};
use actix_web::http::header::AUTHORIZATION;
use actix_web::{HttpRequest, web};
use std::net::IpAddr;

/// Somebody who is signed in.
#[derive(Clone, Debug)]
pub struct Asker {
    /// Who.
    pub signed_in: SignedIn,
    /// What a device's token may do.
    pub scopes: Option<Scopes>,
}

impl Asker {
    /// May they do this, in any of their roles?
    pub fn may(&self, deed: Deed) -> bool {
        self.signed_in.may(|role| permit::may(role, deed))
    }

    /// How far they may do this, the widest of their roles.
    pub fn reach(&self, deed: Deed) -> Reach {
        let reach = self
            .signed_in
            .roles
            .iter()
            .map(|role| permit::reach(*role, deed));
        reach.max().unwrap_or(Reach::Nothing)
    }

    /// How much of what persons typed they may see.
    pub fn sees(&self) -> Sees {
        match self.reach(Deed::ReadBook) {
            Reach::Whole | Reach::Security => Sees::Everything,
            Reach::AssignedSites => Sees::Names,
            Reach::Own | Reach::Nothing => Sees::Own(self.own()),
        }
    }

    /// What is their own.
    pub fn own(&self) -> Own {
        Own {
            person: self.signed_in.person,
            device: self.signed_in.key,
        }
    }

    /// Who posts: one actor for each role, in the order in which they are tried.
    pub fn poster(&self) -> Poster {
        let actor = |role: &Role| Actor {
            person: self.signed_in.person,
            role: *role,
            via: if *role == Role::Device {
                Via::Device
            } else {
                Via::User
            },
            device: Some(self.signed_in.key),
        };
        Poster {
            of: self.signed_in.of.clone(),
            actors: self.signed_in.roles.iter().map(actor).collect(),
            bounds: self.scopes.as_ref().map(|scopes| Bounds {
                movements: scopes.may.iter().any(|may| may == "movements:write"),
                places: scopes.places.clone(),
                refrigerants: scopes.refrigerants.clone(),
            }),
        }
    }

    /// The actor of an action that is no posting; the first role that may do it.
    pub fn acting(&self, deed: Deed) -> Result<Actor, Problem> {
        self.signed_in
            .acting(|role| permit::may(role, deed))
            .ok_or_else(|| forbidden(deed))
    }
}

/// The problem of somebody whose roles lack a deed.
pub fn forbidden(deed: Deed) -> Problem {
    let detail = format!(
        "Expected one of the roles {}, got none of them.",
        roles_of(deed).join(", ")
    );
    Problem::new("forbidden", detail)
}

/// The roles that may do this over HTTP.
pub fn roles_of(deed: Deed) -> Vec<&'static str> {
    let row = permit::TABLE.iter().find(|(known, _)| *known == deed);
    let roles = row
        .map_or(&[][..], |(_, cells)| cells)
        .iter()
        .map(|(role, _)| *role);
    roles
        .filter(|role| *role != Role::Operator)
        .map(Role::word)
        .collect()
}

/// What a request shows of who asks.
enum Credential {
    Session(String),
    Token(String),
}

/// Finds out who asks; `None`: nobody says so.
pub async fn find(
    state: &web::Data<State>,
    request: &HttpRequest,
) -> Result<Option<Asker>, Problem> {
    let credential = match shown(&state.reached, request)? {
        None => return Ok(None),
        Some(credential) => credential,
    };
    let now = (state.now)();
    let look = |db: &mut Db| look_up(&state.door, db, &credential, now);
    let found = match state.desk.read_at_once(look) {
        Some(found) => found,
        None => {
            let shared = state.clone().into_inner();
            let look = move || {
                let look = |db: &mut Db| look_up(&shared.door, db, &credential, now);
                shared.desk.read(look)
            };
            web::block(look)
                .await
                .map_err(|_| Problem::unavailable("no thread to look who asks"))?
        }
    };
    match found.map_err(Problem::from)? {
        Some(asker) => Ok(Some(asker)),
        None => Err(ended()),
    }
}

fn look_up(
    door: &Door,
    db: &mut Db,
    credential: &Credential,
    now: i64,
) -> Result<Option<Asker>, StoreError> {
    match credential {
        Credential::Session(secret) => {
            let found = session::find(door, db, secret, now)?;
            Ok(found.map(|signed_in| Asker {
                signed_in,
                scopes: None,
            }))
        }
        Credential::Token(text) => {
            let found = token::find(door, db, text, now)?;
            Ok(found.map(|bearer| Asker {
                scopes: bearer
                    .signed_in
                    .roles
                    .contains(&Role::Device)
                    .then_some(bearer.scopes),
                signed_in: bearer.signed_in,
            }))
        }
    }
}

fn shown(reached: &Reached, request: &HttpRequest) -> Result<Option<Credential>, Problem> {
    let cookie = request
        .cookie(session_cookie(reached))
        .map(|cookie| cookie.value().to_string());
    let mut headers = request.headers().get_all(AUTHORIZATION);
    let header = headers.next();
    if headers.next().is_some() || (header.is_some() && cookie.is_some()) {
        let detail = "Expected one way of saying who asks, got several. Send either the cookie of a \
                      session or one bearer token.";
        return Err(Problem::new("malformed", detail));
    }
    let Some(header) = header else {
        return Ok(cookie.map(Credential::Session));
    };
    let text = header.to_str().unwrap_or_default();
    let (scheme, rest) = text.split_once(' ').unwrap_or((text, ""));
    if !scheme.eq_ignore_ascii_case("bearer") {
        let detail = "Expected Authorization: Bearer with a token, got another scheme.";
        return Err(challenged(Problem::new("not-signed-in", detail)));
    }
    Ok(Some(Credential::Token(rest.trim().to_string())))
}

/// The problem of a session or token that holds no longer.
fn ended() -> Problem {
    let detail = "Expected a session or token that holds, got one that has ended or is unknown. Sign \
                  in again.";
    challenged(Problem::new("not-signed-in", detail))
}

/// The problem of a request that says nothing of who asks.
pub fn nobody() -> Problem {
    let detail = "Expected somebody who is signed in, got nobody. Sign in with POST \
                  /api/v1/sessions, or send a bearer token.";
    challenged(Problem::new("not-signed-in", detail))
}

fn challenged(problem: Problem) -> Problem {
    // RFC 9110, section 11.6.1: a 401 says how to sign in.
    problem.with_header("WWW-Authenticate", "Bearer")
}

/// Name of the cookie of a session. `__Host-` binds it to this host and to TLS.
pub fn session_cookie(reached: &Reached) -> &'static str {
    if reached.secure {
        "__Host-tarebook"
    } else {
        "tarebook"
    }
}

/// Name of the cookie by which a browser is known.
pub fn device_cookie(reached: &Reached) -> &'static str {
    if reached.secure {
        "__Host-tarebook-device"
    } else {
        "tarebook-device"
    }
}

/// Refuses whoever must set a second factor up first, and may do nothing else until then.
pub fn refuse_half_signed_in(by: &Asker) -> Result<(), Problem> {
    if !by.signed_in.owes_factor {
        return Ok(());
    }
    let detail = "Expected somebody with a second factor, got one who has none yet; the organisation \
                  asks for it. Set it up on the page /me/factor or with POST /api/v1/second-factor.";
    Err(challenged(Problem::new("factor-needed", detail)))
}

/// Refuses a change that another site makes a browser ask for. A request that shows no cookie
/// cannot borrow one; `strict`: it must say where it comes from.
pub fn refuse_other_sites(
    reached: &Reached,
    request: &HttpRequest,
    strict: bool,
) -> Result<(), Problem> {
    let header = |name: &str| {
        let value = request.headers().get(name);
        value.map(|value| String::from_utf8_lossy(value.as_bytes()).into_owned())
    };
    let own = match (header("sec-fetch-site"), header("origin")) {
        (Some(site), _) => site == "same-origin",
        (None, Some(origin)) => is_own(reached, request, &origin),
        (None, None) => !strict,
    };
    if own {
        return Ok(());
    }
    let detail = "Expected a change from a page of this service (Sec-Fetch-Site: same-origin, or our \
                  Origin), got one from elsewhere. Programs send a bearer token instead of a cookie.";
    Err(Problem::new("forbidden", detail))
}

fn is_own(reached: &Reached, request: &HttpRequest, origin: &str) -> bool {
    match &reached.origin {
        Some(own) => own == origin,
        None => {
            let host = request
                .headers()
                .get("host")
                .and_then(|host| host.to_str().ok());
            host.is_some_and(|host| {
                origin
                    .strip_prefix("https://")
                    .or(origin.strip_prefix("http://"))
                    == Some(host)
            })
        }
    }
}

/// The address of the client: the peer's, or what a proxy says that is listed in the settings.
pub fn source(reached: &Reached, request: &HttpRequest) -> String {
    let Some(peer) = request.peer_addr().map(|peer| peer.ip()) else {
        return "unknown".to_string();
    };
    let mut source = peer;
    let chain: Vec<&str> = (request.headers().get_all("x-forwarded-for"))
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(','))
        .map(str::trim)
        .collect();
    // From the nearest hop outwards, as far as each is a proxy of ours.
    for hop in chain.iter().rev() {
        let Ok(hop) = hop.parse::<IpAddr>() else {
            break;
        };
        if !reached.proxies.contains(&source) {
            break;
        }
        source = hop;
    }
    source.to_string()
}

/// Did the request show the cookie of a session?
pub fn by_cookie(asker: &Asker) -> bool {
    asker.signed_in.shown == Shown::Session
}
