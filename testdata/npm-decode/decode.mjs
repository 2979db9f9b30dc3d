// Decodes frames with the npm package candied, a DBC library that shares no
// code with this project. bus/dbc/npm_test.go compares.
//
//   node decode.mjs FOLDER FILE.dbc <frames.json >values.json
//
// FOLDER is where `npm install --prefix FOLDER candied@2.2.0` put it.
// frames.json: [[message, [byte, …]], …]. values.json: for each frame
// {signal: factor·raw + offset, …}, of a multiplexed message all pages alike.
//
// Three things that the package does otherwise are kept out of the comparison:
// it clamps to the range that the file states (its raw value is taken instead), it
// does not look at the switch (the test compares only what is present), and it
// takes the start bit of a Motorola signal for the least significant one. In a DBC
// file it is the most significant: bytes 12 34, start 7, length 16 is 0x1234,
// where candied 2.2.0 finds no bits. So it is asked for the bit at the other end.
import {createRequire} from 'node:module';
import {readFileSync} from 'node:fs';

const [folder, file] = process.argv.slice(2);
const {Dbc, Can} = createRequire(`${folder}/node_modules/`)('candied');

const can = new Can();
const data = new Dbc().load(readFileSync(file, 'latin1'));
can.database = data;

// leastBit walks down from the most significant bit: within a byte the number
// falls, below bit 0 comes bit 7 of the next byte.
function leastBit(start, length) {
  let bit = start;
  for (let i = 1; i < length; i++) {
    bit = bit % 8 === 0 ? bit + 15 : bit - 1;
  }
  return bit;
}

const frames = JSON.parse(readFileSync(0, 'utf8'));
const values = frames.map(([message, payload]) => {
  const result = {};
  for (const [name, signal] of data.messages.get(message).signals) {
    const asked = signal.endian === 'Motorola' ? {...signal, startBit: leastBit(signal.startBit, signal.length)} : signal;
    const {rawValue} = can.decodeSignal(payload, asked);
    result[name] = rawValue * signal.factor + signal.offset;
  }
  return result;
});
process.stdout.write(JSON.stringify(values));
