// Package server is the notebook over HTTP: the pages, and under /api/v1 the
// same notebook and workbench for programs. Every route stands in routes.go;
// each noun has one file.
//
// Rules that hold for every route: a GET changes nothing; a create is a PUT
// with an id (UUIDv7) made by the client, so that sending it again is
// harmless; every refusal is application/problem+json with a code, the field
// and what to try; nothing internal (SQL, file names, stack) leaves the
// process. docs/manual/api.md tells the same to people who write a client.
package server
