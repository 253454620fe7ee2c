// Hands the loader the texts that lean-start.ts prepared, and removes them from the disk. Plain JavaScript: it stands in for what reads types.
import { readFileSync, rmSync } from 'node:fs'
import { registerHooks } from 'node:module'
import { dirname } from 'node:path'

const path = new URL(import.meta.url).searchParams.get('texts') ?? ''
/** @type {Record<string, string>} */
const texts = JSON.parse(readFileSync(path, 'utf8'))
rmSync(dirname(path), { recursive: true, force: true })

registerHooks({
  load: (url, context, next) => {
    const source = texts[url]
    if (source === undefined) return next(url, context)
    delete texts[url]
    return { format: 'module', source, shortCircuit: true }
  },
})
