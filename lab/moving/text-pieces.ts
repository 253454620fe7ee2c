// Many short texts as fewer long ones, so that a stream is not driven line by line.

export function* inPieces(lines: Iterable<string>): Generator<string> {
  let piece = ''
  for (const line of lines) {
    piece += line
    if (piece.length >= PIECE) {
      yield piece
      piece = ''
    }
  }
  if (piece !== '') yield piece
}

const PIECE = 64 * 1024
