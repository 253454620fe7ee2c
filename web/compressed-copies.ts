// Writes a .br and a .gz beside every text file of a build, so that the hub sends what is there and compresses nothing.
import { readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { brotliCompressSync, gzipSync } from 'node:zlib'
import type { Plugin } from 'vite'

export function compressedCopies(): Plugin {
  return {
    name: 'compressed-copies',
    apply: 'build',
    writeBundle({ dir }) {
      if (dir === undefined) return
      for (const entry of readdirSync(dir, { recursive: true, withFileTypes: true })) {
        if (!entry.isFile() || !/\.(?:js|css|html|svg)$/.test(entry.name)) continue
        const path = join(entry.parentPath, entry.name)
        const bytes = readFileSync(path)
        writeFileSync(`${path}.br`, brotliCompressSync(bytes))
        writeFileSync(`${path}.gz`, gzipSync(bytes))
      }
    },
  }
}
