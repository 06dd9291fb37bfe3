"""The one table from error class to problem. Status, title and help of a code are in the catalogue."""

from collections.abc import Mapping
from typing import Final

from dashboards.exports import errors as exports
from ingest import errors as ingest
from service.auth import errors as auth
from service.store import errors as store
from service.tickets import errors as tickets
from service.web import errors as web

TABLE: Final[Mapping[type[Exception], str]] = {
    exports.UnknownDataset: "query-invalid",
    exports.UnknownFormat: "query-invalid",
    exports.WrongColumns: "internal-error",
    exports.WrongValue: "internal-error",
    exports.ExportTooLarge: "export-too-large",
    ingest.UnreadableBody: "body-unreadable",
    ingest.TooLarge: "body-too-large",
    ingest.RatioTooHigh: "body-too-large",
    ingest.BadCompression: "compression-broken",
    ingest.UnknownEncoding: "body-encoding-unsupported",
    ingest.UnknownKind: "body-type-unsupported",
    ingest.UnknownUnit: "body-invalid",
    ingest.WrongUnit: "body-invalid",
    ingest.BadAlias: "body-invalid",
    ingest.BadResponse: "body-invalid",
    ingest.BadTime: "body-invalid",
    auth.MissingToken: "token-missing",
    auth.InvalidToken: "token-invalid",
    auth.InsufficientScope: "insufficient-scope",
    auth.WrongToken: "body-invalid",
    auth.WrongPerson: "account-refused",
    auth.WeakPassword: "account-refused",
    auth.ProviderFailed: "sign-in-needed",
    auth.LastAdmin: "account-refused",
    store.WrongDatabaseUrl: "internal-error",
    store.StoreUnavailable: "store-unavailable",
    store.SchemaMismatch: "schema-mismatch",
    store.ReadOnlyWork: "internal-error",
    store.NotFound: "not-found",
    store.BadCursor: "bad-cursor",
    store.StaleVersion: "stale-version",
    store.AlreadyThere: "already-there",
    store.VehicleHeld: "vehicle-held",
    store.BackupUnusable: "internal-error",
    store.RestoreRefused: "internal-error",
    tickets.TransitionNotAllowed: "transition-not-allowed",
    tickets.TransitionRefused: "transition-refused",
    tickets.UnreadableTable: "internal-error",
    web.UnsupportedType: "body-type-unsupported",
    web.UnsupportedEncoding: "body-encoding-unsupported",
    web.BodyTooLarge: "body-too-large",
    web.BodyInvalid: "body-invalid",
    web.BadCursor: "bad-cursor",
    web.NotFound: "not-found",
    web.BadQuery: "query-invalid",
    web.StaleVersion: "stale-version",
    web.NotReleasable: "not-releasable",
    web.SignInNeeded: "sign-in-needed",
    web.PasswordIssued: "password-issued",
    web.TooManyRequests: "too-many-requests",
    web.RoleNotAllowed: "role-not-allowed",
    web.FormForeign: "form-foreign",
    web.FormStale: "form-stale",
    web.FormInvalid: "form-invalid",
    web.NotReady: "schema-mismatch",
}
"""Code by error class, leaves of every room's tree. A class that is not here is answered as an internal
error, and a test fails."""
