#!/bin/sh
# Writes the Go code of the contract. Needs protoc (Debian: protobuf-compiler); its two
# generators are pinned here. Which protoc it was is left out of what it writes.
set -eu
bin=$(mktemp -d)
trap 'rm -rf "$bin"' EXIT
GOBIN=$bin go install google.golang.org/protobuf/cmd/protoc-gen-go@v1.36.12
GOBIN=$bin go install google.golang.org/grpc/cmd/protoc-gen-go-grpc@v1.6.2
PATH=$bin:$PATH protoc -I ../.. --go_out=../.. --go_opt=paths=source_relative --go-grpc_out=../.. --go-grpc_opt=paths=source_relative plugin/v1/plugin.proto
for f in plugin.pb.go plugin_grpc.pb.go; do
	grep -v '^//.*[ 	]protoc  *v' "$f" >"$bin/out"
	cat "$bin/out" >"$f"
done
