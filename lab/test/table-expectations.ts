// What each table in tables/ must give, written by hand before it was read by any program.
import type { IntakeChoices, IntakeReply } from '@guardband/model'

export interface TableExpectation {
  readonly file: string
  readonly choices?: IntakeChoices
  /** Lines: all = head + blank + taken + left out + rejected. */
  readonly lines?: readonly [all: number, head: number, blank: number, taken: number, leftOut: number, rejected: number]
  /** The first runs: line, sample, tune, start, workload, "41.5 s + 64.8 W" or the outcome, and the time where there is one. */
  readonly booked?: readonly string[]
  readonly runs?: number
  readonly problems?: readonly string[]
  readonly questions?: readonly string[]
  readonly leftOut?: IntakeReply['leftOut']
  /** Beginnings of remarks that must be among them. */
  readonly remarks?: readonly string[]
  /** For files that are refused as a whole. */
  readonly refused?: string
}

const OPEN_END = 'The last line has no end: is the file whole?'

export const TABLES: readonly TableExpectation[] = [
  // Encodings and separators.
  { file: 'plain.csv', lines: [3, 1, 0, 2, 0, 0], booked: ['2 Quillon 14 1 | 65 W | 1 | code build | 1250 points', '3 Quillon 14 1 | 65 W | 1 | photo stack | 90.5 points'] },
  { file: 'utf8-mark.csv', lines: [2, 1, 0, 1, 0, 0], booked: ['2 Quillon 14 1 | 65 W | 1 | Größe | 1250 points'] },
  { file: 'utf16-le.csv', booked: ['2 Quillon 14 1 | 65 W | 1 | Größe | 1250.5 points'] },
  { file: 'utf16-be.csv', booked: ['2 Quillon 14 1 | 65 W | 1 | code build | 1250 points'] },
  { file: 'utf16-no-mark.csv', runs: 2, remarks: ['The encoding is a guess: utf-16le. If letters look wrong, choose another.'] },
  {
    file: 'windows-1252.csv', lines: [3, 1, 0, 2, 0, 0],
    booked: ['2 unnamed processor 1 | leise | 1 | Größenprüfung | 12.5 points', '3 unnamed processor 1 | leise | 1 | Größenprüfung | 12.7 points'],
    remarks: ['The encoding is a guess: windows-1252 (line 2 has "Größenprüfung'],
  },
  { file: 'windows-1252.csv', choices: { encoding: 'utf-8' }, refused: 'windows-1252.csv: line 2 holds bytes that are not UTF-8. Save it as UTF-8 (in a spreadsheet: "CSV UTF-8").' },
  { file: 'pasted.tsv', runs: 2, booked: ['2 unnamed processor A7 | 65 W | 1 | code build | 1250 points', '3 unnamed processor A7 | 65 W | 1 | photo stack | 90 points'] },
  { file: 'bars.txt', booked: ['2 unnamed processor A7 | 65 W | 1 | code build | 1250 points'] },
  { file: 'old-mac-lines.csv', lines: [3, 1, 0, 2, 0, 0], runs: 2 },
  { file: 'quoted-break.csv', lines: [4, 1, 0, 3, 0, 0], booked: ['2 unnamed processor A7 | 65 W | 1 | code build | 1250 points', '4 unnamed processor A7 | 65 W | 1 | code build | 1251 points'] },

  // Numbers.
  { file: 'points-and-commas.csv', booked: ['2 unnamed processor 1 | 65 W | 1 | code build | 1234.5 points', '3 unnamed processor 1 | 65 W | 1 | code build | 987.25 points'] },
  { file: 'commas-and-points.tsv', booked: ['2 unnamed processor 1 | 65 W | 1 | code build | 1234.5 points', '3 unnamed processor 1 | 65 W | 1 | code build | 12345 points'] },
  { file: 'spaces-in-thousands.tsv', booked: ['1234.5', '1235.5', '1236.5'].map((value, index) => `${index + 2} unnamed processor 1 | 65 W | 1 | code build | ${value} points`) },
  { file: 'apostrophes.csv', booked: ['2 unnamed processor 1 | 65 W | 1 | code build | 1234.5 points', '3 unnamed processor 1 | 65 W | 1 | code build | 1240.5 points'] },
  { file: 'thousand-or-decimals.tsv', questions: ['"1.234" (line 2, column value) may be 1.234 or 1234. Which is it?'], runs: 0 },
  { file: 'thousand-or-decimals.tsv', choices: { decimal: '.' }, booked: ['2 unnamed processor 1 | 65 W | 1 | code build | 1.234 points', '3 unnamed processor 1 | 65 W | 1 | code build | 1.25 points'] },
  { file: 'thousand-or-decimals.tsv', choices: { decimal: ',' }, booked: ['2 unnamed processor 1 | 65 W | 1 | code build | 1234 points', '3 unnamed processor 1 | 65 W | 1 | code build | 1250 points'] },
  { file: 'comma-then-point.csv', questions: ['"1.250" (line 3, column value) stands among numbers with a decimal comma. Is it 1250?'] },
  { file: 'comma-then-point.csv', choices: { thousands: '.' }, booked: ['2 unnamed processor 1 | 65 W | 1 | code build | 12.5 points', '3 unnamed processor 1 | 65 W | 1 | code build | 1250 points'] },
  {
    file: 'comma-then-point.csv', choices: { thousands: 'none' }, lines: [3, 1, 0, 1, 0, 1],
    problems: ['comma-then-point.csv, line 3, column value: 1.250 has a point, while other numbers of this file have a decimal comma. Use one of the two throughout, or say how the numbers are to be read.'],
  },
  { file: 'units-in-headers.csv', runs: 2, booked: ['2 unnamed processor A7 | 65 W | 1 | tile render | 41.5 s + 64.8 W', '3 unnamed processor A7 | 65 W | 1 | tile render | 41.7 s + 65.1 W'] },
  { file: 'german-headers.csv', booked: ['2 unnamed processor A7 | leise | 1 | Kachelbild | 41500.5 ms + 64.8 W'] },
  { file: 'units-in-cells.csv', booked: ['2 unnamed processor A7 | 65 W | 1 | tile render | 41.5 s', '3 unnamed processor A7 | 65 W | 1 | tile render | 41.7 s'] },

  // What stands around the runs.
  { file: 'preamble-and-units.csv', lines: [7, 4, 1, 2, 0, 0], booked: ['6 unnamed processor A7 | 65 W | 1 | tile render | 41.5 s', '7 unnamed processor A7 | 65 W | 1 | tile render | 41.7 s'] },
  { file: 'totals.csv', lines: [5, 1, 1, 2, 1, 0], runs: 2, leftOut: [{ line: 5, reason: '"Average" says that it sums up other lines' }] },
  { file: 'header-again.csv', lines: [4, 1, 0, 2, 1, 0], runs: 2, leftOut: [{ line: 3, reason: 'the header stands there again' }] },
  { file: 'comment-lines.csv', lines: [5, 2, 0, 2, 1, 0], runs: 2, leftOut: [{ line: 4, reason: 'it begins with #' }] },
  { file: 'ragged-end.csv', lines: [3, 1, 0, 2, 0, 0], runs: 2, remarks: ['1 line ends before the last column; the missing cells are read as empty.'] },

  // Wide layouts.
  {
    file: 'wide-workloads.csv', lines: [4, 1, 0, 3, 0, 0], runs: 5,
    booked: [
      '2 unnamed processor A7 | 65 W | 1 | tile render | 41.5 s', '2 unnamed processor A7 | 65 W | 1 | code build | 1250 points',
      '3 unnamed processor A7 | 65 W | 2 | tile render | 41.7 s', '3 unnamed processor A7 | 65 W | 2 | code build | 1240 points',
      '4 unnamed processor A8 | 65 W | 3 | code build | 1230 points',
    ],
  },
  { file: 'wide-measures.csv', runs: 2, booked: ['2 unnamed processor A7 | 65 W | 1 | tile render | 41.5 s + 64.8 W', '3 unnamed processor A7 | 65 W | 2 | tile render | 41.7 s + 65.1 W'] },
  {
    file: 'wide-repeats.csv', runs: 6, lines: [3, 1, 0, 2, 0, 0],
    booked: [
      '2 unnamed processor A7 | 65 W | 1 | tile render | 41.5 s', '2 unnamed processor A7 | 65 W | 1 | tile render | 41.7 s', '2 unnamed processor A7 | 65 W | 1 | tile render | program died',
      '3 unnamed processor A7 | 65 W | 1 | code build | 60.1 s', '3 unnamed processor A7 | 65 W | 1 | code build | 60.3 s', '3 unnamed processor A7 | 65 W | 1 | code build | 60.2 s',
    ],
  },
  { file: 'wide-tunes.csv', questions: ['The file has no column that names the starts. Which lines share one power-on?'] },
  {
    file: 'wide-tunes.csv', choices: { starts: 'each sample and tune' }, runs: 4, remarks: ['Left out: the column "average".'],
    booked: [
      '2 unnamed processor A7 | 65 W | 65 W | code build | 1250 points', '3 unnamed processor A7 | 65 W | 65 W | photo stack | 90 points',
      '2 unnamed processor A7 | 95 W | 95 W | code build | 1300 points', '3 unnamed processor A7 | 95 W | 95 W | photo stack | 94 points',
    ],
  },
  { file: 'wide-open.csv', questions: ['The columns "red", "blue" hold figures. What does each stand for?'] },
  { file: 'wide-open.csv', choices: { wide: 'repeats' }, runs: 2, booked: ['2 unnamed processor A7 | 65 W | 1 | code build | 1250 points', '2 unnamed processor A7 | 65 W | 1 | code build | 1300 points'] },

  // What the file does not say.
  { file: 'no-start.csv', questions: ['The file has no column that names the starts. Which lines share one power-on?'] },
  { file: 'no-start.csv', choices: { starts: 'each line' }, booked: ['2 unnamed processor A7 | 65 W | line 2 | code build | 1250 points', '3 unnamed processor A7 | 95 W | line 3 | code build | 1300 points'] },
  { file: 'no-sample.csv', questions: ['The file does not say which sample it was. Which one?'] },
  { file: 'no-sample.csv', choices: { given: { sample: 'B2', part: 'Quillon 14R', rig: 'south bench' } }, booked: ['2 Quillon 14R B2 | 65 W | 1 | code build | 1250 points'] },

  // Words for outcomes.
  {
    file: 'outcome-words.csv', lines: [8, 1, 0, 6, 1, 0], runs: 6, leftOut: [{ line: 5, reason: 'it says that nothing ran' }],
    booked: [
      '2 unnamed processor A7 | 65 W | 1 | code build | 1250 points', '3 unnamed processor A7 | 65 W | 1 | code build | program died', '4 unnamed processor A7 | 65 W | 1 | code build | machine reset',
      '6 unnamed processor A7 | 65 W | 1 | code build | program died', '7 unnamed processor A7 | 65 W | 1 | code build | hung', '8 unnamed processor A7 | 65 W | 1 | code build | errors',
    ],
  },
  { file: 'unknown-word.csv', questions: ['What does "kaputt" mean (line 3, column value)?'] },
  { file: 'unknown-word.csv', choices: { outcomes: [{ word: 'kaputt', outcome: 'machine reset' }] }, booked: ['2 unnamed processor A7 | 65 W | 1 | code build | 1250 points', '3 unnamed processor A7 | 65 W | 1 | code build | machine reset'] },
  { file: 'near-word.csv', questions: ['What does "machine rest" mean (line 2, column outcome)? Perhaps "machine reset".'] },

  // Dates.
  { file: 'date-open.csv', questions: ['"11/01/2026" (line 2, column date) may be 11 January 2026 or 1 November 2026, and no date of the file settles it. Which is it?', '"11/01/2026" (line 2) does not say its time zone. Which clock was it?'] },
  {
    file: 'date-open.csv', choices: { dates: 'month first', zone: 'Z' }, remarks: ['2 lines give their day only; their time is booked as the beginning of that day.'],
    booked: ['2 unnamed processor A7 | 65 W | 1 | code build | 1250 points | 2026-11-01T00:00:00.000Z', '3 unnamed processor A7 | 65 W | 2 | code build | 1260 points | 2026-12-01T00:00:00.000Z'],
  },
  { file: 'date-settled.csv', booked: ['2 unnamed processor A7 | 65 W | 1 | code build | 1250 points | 2026-01-11T09:00:00.000Z', '3 unnamed processor A7 | 65 W | 2 | code build | 1260 points | 2026-01-13T09:00:00.000Z'] },
  { file: 'date-month-first.csv', booked: ['2 unnamed processor A7 | 65 W | 1 | code build | 1250 points | 2026-01-11T21:05:00.000Z', '3 unnamed processor A7 | 65 W | 2 | code build | 1260 points | 2026-01-13T09:05:00.000Z'] },
  // Day 46331 after 30 December 1899 is 5 November 2026; 0.375 of a day is nine o'clock.
  { file: 'date-serial.csv', choices: { zone: '+01:00' }, booked: ['2 unnamed processor A7 | 65 W | 1 | code build | 1250 points | 2026-11-05T08:00:00.000Z'] },
  { file: 'date-and-clock.csv', choices: { zone: 'Europe/Berlin' }, booked: ['2 unnamed processor A7 | 65 W | 1 | code build | 1250 points | 2026-11-05T08:30:00.000Z'] },
  { file: 'time-without-zone.csv', questions: ['"2026-11-05 09:00" (line 2) does not say its time zone. Which clock was it?'] },
  { file: 'cut-off.csv', runs: 2, lines: [3, 1, 0, 2, 0, 0], remarks: [OPEN_END] },

  // Bad files.
  { file: 'empty.csv', problems: ['empty.csv: the file is empty. Put a header line and at least one run in it.'] },
  { file: 'only-header.csv', problems: ['only-header.csv, line 1: the file has a header but no runs. Put at least one run below it.'] },
  { file: 'no-header.csv', problems: ['no-header.csv: no line names the columns. Put a line above the runs that names them, such as sample, tune, start, workload, value; or say which line it is.'] },
  { file: 'open-quote.csv', lines: [4, 1, 0, 2, 0, 1], problems: ['open-quote.csv, line 3: a quote is opened and not closed on this line. Close it, or double a quote that belongs to the text.'] },
  {
    file: 'open-quote-pair.csv', lines: [4, 1, 0, 1, 0, 2],
    problems: [
      'open-quote-pair.csv, line 2: a quote is opened and not closed on this line: it runs on over 2 lines of the table. Close it, or double a quote that belongs to the text.',
      'open-quote-pair.csv, line 3: a quote stands in the middle of a cell. Put the whole cell in quotes and double the quote inside it.',
    ],
  },
  { file: 'quote-inside.csv', problems: ['quote-inside.csv, line 2: a quote stands in the middle of a cell. Put the whole cell in quotes and double the quote inside it.'] },
  { file: 'short-line.csv', lines: [3, 1, 0, 1, 0, 1], problems: ['short-line.csv, line 2: the line has 3 cells; the header has 6. Put quotes around a value that holds a comma, or separate columns by semicolons.'] },
  { file: 'long-line.csv', problems: ['long-line.csv, line 2: the line has 7 cells; the header has 6. Put quotes around a value that holds a comma, or separate columns by semicolons.'] },
  { file: 'zero.csv', problems: ['zero.csv, line 2, column value: a value in points must be above zero; got 0. Leave the cell empty for a run that failed, and give its outcome.'] },
  { file: 'infinite.csv', lines: [3, 1, 0, 1, 0, 1], problems: ['infinite.csv, line 3, column value: a value must be finite; got inf. Leave the cell empty and give the outcome.'] },
  { file: 'mixed-marks.csv', problems: ['mixed-marks.csv, line 4, column value: 12.75 has a point, while other numbers of this file have a decimal comma. Use one of the two throughout, or say how the numbers are to be read.'] },
  { file: 'bad-day.csv', problems: ['bad-day.csv, line 2, column time: "2026-02-30T09:00:00Z" is not a time. Write it as 2026-11-05T14:30:00+01:00.'] },
  { file: 'both-orders.csv', problems: ['both-orders.csv, line 3, column time: "01/14/2026 09:00 Z" is not a time read day first. Write it as 2026-11-05T14:30:00+01:00.'] },
  { file: 'column-twice.csv', problems: ['column-twice.csv, line 1, column value: the column "value" comes twice. Keep one of them.'] },
  { file: 'empty-sample.csv', problems: ['empty-sample.csv, line 2, column sample: the cell is empty. Every run needs one.'] },
  { file: 'two-firmwares.csv', problems: ['two-firmwares.csv, line 3, column firmware: start "1" has "F2" here and "F1" on line 2. Within one start it stays the same; give the other runs another start.'] },
  { file: 'wrong-unit.csv', problems: ['wrong-unit.csv, line 3, column unit: measure "time" of "code build" is in s; W does not convert to it. Give the value in that unit, or name another measure.'] },
  { file: 'picture.csv', refused: 'picture.csv: this is a picture, not a text. Write its figures into a table and export that as CSV.' },
  { file: 'nul.csv', refused: 'nul.csv: line 2 holds a NUL, as UTF-16 files do. Save it as UTF-8 (in a spreadsheet: "CSV UTF-8").' },
]
