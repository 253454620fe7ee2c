// The Gain question, put together.
import { defineQuestion } from '../define.ts'
import { askGain } from './ask.ts'
import { compute } from './compute.ts'
import { picture } from './picture.ts'
import { table, text } from './tell.ts'

export const gain = defineQuestion({ kind: 'gain', ask: askGain, compute, table, text, picture })
