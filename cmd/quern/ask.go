package main

import (
	"bytes"
	"crypto/tls"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"strings"
	"time"
)

// askDaemon sends a request to a daemon and returns the body of its answer.
func askDaemon(method, address, path string, body any) ([]byte, error) {
	var sent io.Reader
	if body != nil {
		b, err := json.Marshal(body)
		if err != nil {
			return nil, err
		}
		sent = bytes.NewReader(b)
	}
	req, err := http.NewRequest(method, "http://"+address+path, sent)
	if err != nil {
		return nil, usageError{fmt.Errorf("found --at %q, expected an address such as 127.0.0.1:8750", address)}
	}
	status, b, err := send(req, nil)
	if err == nil && status == http.StatusBadRequest && strings.Contains(string(b), "HTTP request to an HTTPS server") {
		// It was given a certificate, which is for names of the network: on this machine nobody stands between.
		var unchecked *tls.Config
		if ip := net.ParseIP(req.URL.Hostname()); ip != nil && ip.IsLoopback() || req.URL.Hostname() == "localhost" {
			unchecked = &tls.Config{InsecureSkipVerify: true}
		}
		req.URL.Scheme = "https"
		if req.GetBody != nil {
			if req.Body, err = req.GetBody(); err != nil {
				return nil, err
			}
		}
		status, b, err = send(req, unchecked)
	}
	if err != nil {
		return nil, fmt.Errorf("no daemon answers at %s: is 'quern serve' running? (%w)", address, err)
	}
	if status == http.StatusNotFound {
		return nil, fmt.Errorf("%s answers, but has no %s: found something else than a running bench, perhaps 'quern pages', expected 'quern serve'", address, path)
	}
	if status != http.StatusOK {
		return nil, fmt.Errorf("the daemon refuses: %s", strings.TrimSpace(string(b)))
	}
	return b, nil
}

// send sends a request and returns what came back.
func send(req *http.Request, by *tls.Config) (status int, body []byte, err error) {
	client := http.Client{Timeout: 10 * time.Second, Transport: &http.Transport{TLSClientConfig: by, DisableKeepAlives: true}}
	resp, err := client.Do(req)
	if err != nil {
		return 0, nil, err
	}
	defer resp.Body.Close()
	body, err = io.ReadAll(io.LimitReader(resp.Body, 4<<20))
	return resp.StatusCode, body, err
}
