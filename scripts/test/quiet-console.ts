/**
 * Fails a test that lets something slip onto the console: stray output is a fault nobody would see in a long log.
 * A test that expects output puts its own spy in place, which never reaches this.
 */
import { afterEach } from 'vitest'

const slipped: string[] = []

for (const method of ['log', 'info', 'warn', 'error', 'debug'] as const) {
  const write = console[method].bind(console)
  console[method] = (...parts: readonly unknown[]) => {
    slipped.push(`console.${method}(${parts.map(String).join(' ')})`)
    write(...parts)
  }
}

afterEach(() => {
  const stray = slipped.splice(0)
  if (stray.length > 0) throw new Error(`a test must leave the console alone; got ${stray.join('; ')}`)
})
