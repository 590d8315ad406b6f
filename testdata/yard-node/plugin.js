#!/usr/bin/env node
// A plugin in JavaScript: the lowest voltage of the battery while the engine ran. It is built into one file, because what is
// admitted and run is one file: npm ci && npm run build -- --outfile=volts
import { readFileSync } from "node:fs";
import { join } from "node:path";
import grpc from "@grpc/grpc-js";
import { fromJSON } from "@grpc/proto-loader";
import { tableFromIPC } from "apache-arrow";
import protobuf from "protobufjs";
import contract from "../../schemas/plugin/v1/plugin.proto";

const practice = { kind: "practice", text: "common practice" };

const description = {
  plugins: [{
    name: "volts", version: "1.0.0",
    checks: [{
      id: "volts.lowest", item: "Lowest voltage while the engine ran", system: "electrical", moments: ["run"], unit: "V",
      needs: {
        channels: [{ name: "battery", quantity: "voltage" }, { name: "rpm", quantity: "rotation" }],
        limits: [
          { name: "running", value: 1000, unit: "rpm", source: practice },
          { name: "lowest", value: 12.5, unit: "V", tighten: "up", source: practice },
        ],
      },
      do: "Alternator, belt, earth strap.", source: practice,
      accept: { warn: { hats: ["lead-engineer"] }, noData: { hats: ["lead-engineer"] } },
    }],
  }],
};

// channel reads a channel: its own times, its values in SI, NaN where nobody may believe them.
function channel(log, name) {
  const column = log.columns.find((c) => c.name === name);
  const table = tableFromIPC(readFileSync(column.path));
  const rows = table.getChild("row");
  const all = tableFromIPC(readFileSync(log.times)).getChild("value");
  const value = table.getChild("value");
  const times = [], values = [];
  for (let i = 0; i < value.length; i++) {
    const x = value.get(i), t = all.get(rows ? rows.get(i) : i);
    times.push(t);
    values.push(x === null ? NaN : x * column.scale + column.offset);
  }
  for (const gap of column.unseen) {
    for (let i = 0; i < times.length; i++) {
      if (times[i] >= gap.from && times[i] < gap.to) values[i] = NaN;
    }
  }
  return { times, values, column };
}

// at is the value that stands at a time, NaN where none does.
function at({ times, values, column }, t) {
  let lo = 0, hi = times.length;
  while (lo < hi) {
    const mid = (lo + hi) >> 1;
    if (times[mid] <= t) lo = mid + 1; else hi = mid;
  }
  return lo === 0 || t >= times[lo - 1] + column.hold ? NaN : values[lo - 1];
}

function lowest({ log, limits }) {
  const limit = Object.fromEntries(limits.map((l) => [l.name, l.value]));
  const volts = channel(log, "battery"), rpm = channel(log, "rpm");
  let low = Infinity, when = 0;
  volts.times.forEach((t, i) => {
    if (at(rpm, t) > limit.running && volts.values[i] < low) [low, when] = [volts.values[i], t];
  });
  const unseen = [...volts.column.unseen, ...rpm.column.unseen];
  const bound = { low: limit.lowest, high: Infinity, name: "lowest", means: "OUTCOME_FAIL" };
  if (low === Infinity) return { outcome: "OUTCOME_NO_DATA", message: "not exercised: the engine never ran", unseen };
  const result = { measured: { low, high: low }, limit: bound, at: { time: when, within: volts.column.period }, unseen };
  if (low < limit.lowest) return { ...result, outcome: "OUTCOME_FAIL" };
  if (unseen.length > 0) return { ...result, outcome: "OUTCOME_NO_DATA", message: "unseen in places" }; // missing never passes
  return { ...result, outcome: "OUTCOME_PASS" };
}

if (!process.env.PAINTMARK_PLUGIN) {
  console.error("this is a plugin of Paintmark; have it looked at with: paintmark plugin admit FILE");
  process.exit(1);
}
process.stdin.on("end", () => process.exit(0)).resume(); // the host is gone
const parsed = protobuf.parse(contract, { keepCase: false }).root;
const { paintmark } = grpc.loadPackageDefinition(fromJSON(parsed.toJSON(), { enums: String, defaults: true, arrays: true }));
const server = new grpc.Server();
server.addService(paintmark.plugin.v1.Checks.service, {
  describe: (_, answer) => answer(null, description),
  inspect(call) {
    try {
      call.write({ result: { check: call.request.check, ...lowest(call.request) } });
    } catch (err) {
      call.write({ fault: { what: String(err) } });
    }
    call.end();
  },
});
const socket = join(process.env.PLUGIN_UNIX_SOCKET_DIR, "volts.sock");
server.bindAsync(`unix:${socket}`, grpc.ServerCredentials.createInsecure(), (err) => {
  if (err) throw err;
  console.log(`1|1|unix|${socket}|grpc`); // the handshake: go-plugin's version, the contract's, where, how
});
