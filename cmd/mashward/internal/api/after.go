package api

import (
	"bytes"
	"context"
	"net/http"

	"mashward/cmd/internal/account"
	"mashward/cmd/internal/bundle"
	"mashward/cmd/internal/config"
	"mashward/cmd/internal/report"
	"mashward/controller/record"
)

// account is what a record comes to.
func (a *API) account(ctx context.Context, id string) (out account.Account, err error) {
	err = a.storage(ctx, id, func(s record.Storage) (e error) {
		out, e = account.Read(s)
		return e
	})
	return out, err
}

// compare puts two records side by side.
func (a *API) compare(r *http.Request) answer {
	q := r.URL.Query()
	ids := [2]string{q.Get("a"), q.Get("b")}
	if ids[0] == "" || ids[1] == "" {
		return missing("Name two records: records/compare?a=ID&b=ID.")
	}
	var both [2]account.Account
	for i, id := range ids {
		of, err := a.account(r.Context(), id)
		if err != nil {
			return a.noRecord(err)
		}
		both[i] = of
	}
	return found(account.Compare(&both[0], &both[1]))
}

// reportPolicy lets a report have its own style, and nothing else: it has no script,
// asks for nothing and is no part of the site.
const reportPolicy = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'; sandbox"

// report is the page of one batch.
func (a *API) report(r *http.Request) answer {
	var page bytes.Buffer
	err := a.storage(r.Context(), r.PathValue("id"), func(s record.Storage) error {
		of, err := report.FromRecord(s, config.Tariff{})
		if err != nil {
			return err
		}
		return report.HTML(&page, of)
	})
	if err != nil {
		return a.noRecord(err)
	}
	return answer{status: http.StatusOK, kind: "text/html; charset=utf-8", body: page.Bytes(), policy: reportPolicy}
}

// bundle is the record without what tells whose it is, as a file to give away.
func (a *API) bundle(r *http.Request) answer {
	id := r.PathValue("id")
	var packed []byte
	err := a.storage(r.Context(), id, func(s record.Storage) (e error) {
		packed, e = bundle.Pack(s)
		return e
	})
	if err != nil {
		return a.noRecord(err)
	}
	return answer{status: http.StatusOK, kind: "application/x-tar", body: packed, save: id + ".tar"}
}
