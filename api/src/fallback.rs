//! Answers where no handler is: an unknown path, an unknown method, an id that is none.

use actix_web::{HttpRequest, HttpResponse, error::PathError, http::Method, web};
use utoipa::openapi::OpenApi;

use crate::error::ApiError;

/// Which methods each path takes, read from the document of the API so that the two cannot differ.
pub(crate) struct Methods(Vec<(Vec<String>, Vec<&'static str>)>);

impl Methods {
    /// From the document.
    pub(crate) fn of(openapi: &OpenApi) -> Self {
        let segments = |path: &str| path.split('/').map(str::to_owned).collect();
        Self(
            openapi
                .paths
                .paths
                .iter()
                .map(|(path, item)| {
                    let known = [
                        ("GET", item.get.is_some()),
                        ("HEAD", item.get.is_some()),
                        ("POST", item.post.is_some()),
                        ("PUT", item.put.is_some()),
                        ("PATCH", item.patch.is_some()),
                        ("DELETE", item.delete.is_some()),
                    ];
                    let methods = known.into_iter().filter(|(_, is)| *is).map(|(name, _)| name);
                    (segments(path), methods.collect())
                })
                .collect(),
        )
    }

    /// The methods of a path, if it is one of ours.
    fn at(&self, path: &str) -> Option<String> {
        let asked: Vec<&str> = path.split('/').collect();
        let fits = |known: &[String]| {
            known.len() == asked.len()
                && known
                    .iter()
                    .zip(&asked)
                    .all(|(known, asked)| known == asked || stands_for(known, asked))
        };
        let (_, methods) = self.0.iter().find(|(known, _)| fits(known))?;
        Some(methods.join(", "))
    }
}

/// Whether a segment with a name in it, such as `{id}` or `{token}.ics`, stands for that one.
fn stands_for(known: &str, asked: &str) -> bool {
    let ending = known.strip_prefix('{').and_then(|rest| rest.split_once('}'));
    ending.is_some_and(|(_, ending)| asked.len() > ending.len() && asked.ends_with(ending))
}

/// What no route took: the path is unknown, or the method is.
pub(crate) async fn no_such_route(
    request: HttpRequest,
    methods: web::Data<Methods>,
) -> Result<HttpResponse, ApiError> {
    let Some(allow) = methods.at(request.path()) else {
        return Err(ApiError::NotFound("no such address".to_owned()));
    };
    if request.method() == Method::OPTIONS {
        return Ok(HttpResponse::NoContent().insert_header(("Allow", allow)).finish());
    }
    Err(ApiError::MethodNotAllowed(allow))
}

/// An id in a path that is none cannot be found.
pub(crate) fn bad_path(_error: PathError, _request: &HttpRequest) -> actix_web::Error {
    ApiError::NotFound("no such address: an id in it is not one".to_owned()).into()
}
