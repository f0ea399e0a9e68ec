// Command check is a checker that shares no code with Inkfast: it reads the public formats
// (C2SP tlog-proof and tlog-checkpoint) and decides with golang.org/x/mod/sumdb.
//
//	check VKEY LEAFFILE PROOFFILE
//	check consistency VKEY OLDCHECKPOINT NEWCHECKPOINT PROOFFILE
//
// In a PROOFFILE of consistency each line is one hash in base64. Exit code 0: it holds; 1: it does not.
//
// Build, with Debian's golang-go and golang-golang-x-mod-dev:
//
//	GO111MODULE=off GOPATH=/usr/share/gocode go build -o check check.go
package main

import (
	"encoding/base64"
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
)

func main() {
	said, err := run(os.Args[1:])
	if err != nil {
		fmt.Println("REFUSED:", err)
		os.Exit(1)
	}
	fmt.Println("OK:", said)
}

func run(args []string) (string, error) {
	switch {
	case len(args) == 5 && args[0] == "consistency":
		return consistency(args[1], args[2], args[3], args[4])
	case len(args) == 3:
		return inclusion(args[0], args[1], args[2])
	}
	return "", errors.New("usage: check VKEY LEAF PROOF | check consistency VKEY OLD NEW PROOF")
}

func inclusion(vkey, leafFile, proofFile string) (string, error) {
	leaf, err := os.ReadFile(leafFile)
	if err != nil {
		return "", err
	}
	proof, err := os.ReadFile(proofFile)
	if err != nil {
		return "", err
	}
	head, checkpoint, found := strings.Cut(string(proof), "\n\n")
	lines := strings.Split(head, "\n")
	if !found || lines[0] != "c2sp.org/tlog-proof@v1" {
		return "", errors.New("not a tlog-proof of edition v1")
	}
	lines = lines[1:]
	if len(lines) > 0 && strings.HasPrefix(lines[0], "extra ") {
		lines = lines[1:]
	}
	if len(lines) == 0 || !strings.HasPrefix(lines[0], "index ") {
		return "", errors.New("no index line")
	}
	index, err := strconv.ParseInt(strings.TrimPrefix(lines[0], "index "), 10, 64)
	if err != nil {
		return "", err
	}
	hashes, err := parseHashes(lines[1:])
	if err != nil {
		return "", err
	}
	size, root, err := open(vkey, checkpoint)
	if err != nil {
		return "", err
	}
	if err := tlog.CheckRecord(hashes, size, root, index, tlog.RecordHash(leaf)); err != nil {
		return "", err
	}
	return fmt.Sprintf("entry %d is in the tree of %d", index, size), nil
}

func consistency(vkey, oldFile, newFile, proofFile string) (string, error) {
	var texts [3]string
	for i, name := range []string{oldFile, newFile, proofFile} {
		data, err := os.ReadFile(name)
		if err != nil {
			return "", err
		}
		texts[i] = string(data)
	}
	oldSize, oldRoot, err := open(vkey, texts[0])
	if err != nil {
		return "", fmt.Errorf("old checkpoint: %w", err)
	}
	newSize, newRoot, err := open(vkey, texts[1])
	if err != nil {
		return "", fmt.Errorf("new checkpoint: %w", err)
	}
	hashes, err := parseHashes(strings.FieldsFunc(texts[2], func(r rune) bool { return r == '\n' }))
	if err != nil {
		return "", err
	}
	if err := tlog.CheckTree(hashes, newSize, newRoot, oldSize, oldRoot); err != nil {
		return "", err
	}
	return fmt.Sprintf("the tree of %d continues the tree of %d", newSize, oldSize), nil
}

// open checks the signature of a checkpoint and that its origin is the name of the key.
func open(vkey, checkpoint string) (size int64, root tlog.Hash, err error) {
	verifier, err := note.NewVerifier(vkey)
	if err != nil {
		return 0, root, err
	}
	opened, err := note.Open([]byte(checkpoint), note.VerifierList(verifier))
	if err != nil {
		return 0, root, err
	}
	lines := strings.Split(opened.Text, "\n")
	if len(lines) != 4 || lines[0] != verifier.Name() {
		return 0, root, errors.New("not three lines, or of another log")
	}
	if size, err = strconv.ParseInt(lines[1], 10, 64); err != nil {
		return 0, root, err
	}
	root, err = tlog.ParseHash(lines[2])
	return size, root, err
}

func parseHashes(lines []string) ([]tlog.Hash, error) {
	hashes := make([]tlog.Hash, len(lines))
	for i, line := range lines {
		data, err := base64.StdEncoding.Strict().DecodeString(line)
		if err != nil || len(data) != tlog.HashSize {
			return nil, fmt.Errorf("hash %d is not 32 bytes in base64", i)
		}
		copy(hashes[i][:], data)
	}
	return hashes, nil
}
