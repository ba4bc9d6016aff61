// Reads the PGN file named on the command line with two independent readers and prints what they saw as JSON.
//
// kokopu reads the whole file with all sidelines and rejects illegal moves; its trees and comments are printed.
// chess.js parses each game in its strict mode, which only keeps the main line; so every line of kokopu's tree is
// played through chess.js as well, in strict SAN. Any error of either is an entry of `errors`.
"use strict";

const fs = require("fs");
const { Chess } = require("chess.js");
const { pgnRead } = require("kokopu");

const text = fs.readFileSync(process.argv[2], "utf8");
const errors = [];

function games() {
  const database = pgnRead(text);
  const out = [];
  for (let i = 0; i < database.gameCount(); i++) {
    try {
      out.push(game(database.game(i)));
    } catch (error) {
      errors.push(`kokopu, game ${i + 1}: ${error.message}`);
    }
  }
  return out;
}

// A game as {fen, event, comment, moves}; moves are in the order of the text, a move's sidelines after all that follows
// it: [index of the parent or -1, san, nags, comment, fen after].
function game(source) {
  const main = source.mainVariation();
  return {
    fen: source.initialPosition().fen({ fullMoveNumber: source.initialFullMoveNumber() }),
    event: source.event(),
    comment: main.comment() ?? "",
    moves: flat(line(main)),
  };
}

function flat(top) {
  const out = [];
  const todo = top.map((move) => [-1, move]).reverse();
  while (todo.length > 0) {
    const [parent, [san, nags, comment, fen, children]] = todo.pop();
    out.push([parent, san, nags, comment, fen]);
    const index = out.length - 1;
    for (const child of [...children].reverse()) todo.push([index, child]);
  }
  return out;
}

// The alternatives at the start of a variation, without recursion: [variation, list its moves go to].
function line(main) {
  const top = [];
  const todo = [[main, top]];
  while (todo.length > 0) {
    const [variation, start] = todo.pop();
    let siblings = start;
    for (const node of variation.nodes()) {
      const children = [];
      siblings.push([node.notation(), node.nags(), node.comment() ?? "", node.fen(), children]);
      for (const sideline of node.variations()) todo.unshift([sideline, siblings]);
      siblings = children;
    }
  }
  return top;
}

// The games' texts: a tag section after a blank line starts the next one. Comments never hold blank lines here.
function texts() {
  return text.split(/\n\n(?=\[Event ")/).map((part) => part.trim() + "\n");
}

function strictMainLine(part, number) {
  const chess = new Chess();
  try {
    chess.loadPgn(part, { strict: true });
  } catch (error) {
    errors.push(`chess.js, game ${number}: ${error.message}`);
  }
  return { moves: chess.history(), headers: chess.getHeaders() };
}

// Plays every line of the tree in chess.js, taking back to the parent where a line ends.
function playAll(tree, fen, number) {
  let chess;
  try {
    chess = new Chess(fen);
  } catch (error) {
    errors.push(`chess.js, game ${number}, start: ${error.message}`);
    return;
  }
  const line = [];
  tree.moves.forEach(([parent, san], index) => {
    while (line.length > 0 && line[line.length - 1] !== parent) {
      line.pop();
      chess.undo();
    }
    line.push(index);
    try {
      const played = chess.move(san, { strict: true });
      if (played.san !== san) errors.push(`chess.js, game ${number}: ${san} should be written ${played.san}`);
    } catch (error) {
      errors.push(`chess.js, game ${number}: ${error.message}`);
    }
  });
}

let trees = [];
try {
  trees = games();
} catch (error) {
  errors.push(`kokopu: ${error.message}`);
}
const mains = texts().map((part, i) => strictMainLine(part, i + 1));
if (mains.length !== trees.length) errors.push(`kokopu sees ${trees.length} games, the file has ${mains.length}`);
trees.forEach((tree, i) => {
  if (mains[i]) playAll(tree, mains[i].headers.FEN, i + 1);
});
process.stdout.write(JSON.stringify({ errors, games: trees, mains }));
