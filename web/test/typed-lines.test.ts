// Names typed on lines of their own.
import { expect, test } from 'vitest'
import { linesOf, typedLines } from '../pieces/typed-lines.ts'

test('a name with a comma in it comes back as one name', () => {
  const names = ['eco, quiet fans', 'full, 65 W']
  expect(typedLines(linesOf(names))).toEqual(names)
})

test('empty lines, blanks around a name, foreign line ends and repeats go', () => {
  expect(typedLines('  eco \r\n\n full\neco\n')).toEqual(['eco', 'full'])
})
