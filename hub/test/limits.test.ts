// Uploads past the limit are refused with a sentence while most of them is still with the sender, and memory stays low.
import { request } from 'node:http'
import { connect } from 'node:net'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { pageHeaders } from './client.ts'
import { startTestHub, type TestHub } from './test-hub.ts'

const MB = 1024 * 1024
const UPLOAD = 2048 * MB
let test: TestHub
beforeAll(async () => {
  test = await startTestHub()
})
afterAll(() => test.end())

interface Upload {
  readonly status: number
  readonly text: string
  readonly sentMegabytes: number
  readonly grewMegabytes: number
}

/** Pours 2 GB at the hub as fast as it takes them, until it answers or hangs up. */
async function pour(path: string, headers: Readonly<Record<string, string>>): Promise<Upload> {
  const piece = Buffer.alloc(MB, 'a,b\n')
  const cookie = await test.cookie()
  const before = process.memoryUsage.rss()
  let most = before
  return new Promise((resolve, reject) => {
    let sent = 0
    let answered = false
    const outgoing = request({ host: '127.0.0.1', port: test.hub.port, path, method: 'POST', agent: false, headers: { ...pageHeaders(test.hub.port, cookie), 'content-type': 'text/csv', ...headers } })
    outgoing.on('response', (incoming) => {
      answered = true
      let text = ''
      incoming.setEncoding('utf8')
      incoming.on('data', (part: string) => (text += part))
      incoming.on('end', () => {
        outgoing.destroy()
        resolve({ status: incoming.statusCode ?? 0, text, sentMegabytes: sent / MB, grewMegabytes: (most - before) / MB })
      })
      incoming.on('error', reject)
    })
    outgoing.on('error', (error) => {
      if (!answered) reject(error)
    })
    const fill = (): void => {
      most = Math.max(most, process.memoryUsage.rss())
      while (!answered && !outgoing.destroyed && sent < UPLOAD) {
        sent += MB
        if (!outgoing.write(piece)) {
          outgoing.once('drain', fill)
          return
        }
      }
    }
    fill()
  })
}

describe('an upload of 2 GB', () => {
  it('is refused from its declared length before it is read', async () => {
    const upload = await pour('/api/intake/runs?file=huge.csv&only=take', { 'content-length': String(UPLOAD) })
    expect(upload.status).toBe(413)
    expect(upload.text).toContain('at most 50 MB')
    // What the two ends of a loopback connection hold by themselves; far below the limit of 50.
    expect(upload.sentMegabytes).toBeLessThan(30)
    expect(upload.grewMegabytes).toBeLessThan(150)
  })

  it('is refused at the byte past the limit when it declares no length', async () => {
    const upload = await pour('/api/intake/runs?file=huge.csv&only=take', { 'transfer-encoding': 'chunked' })
    expect(upload.status).toBe(413)
    expect(upload.text).toContain('at most 50 MB')
    expect(upload.sentMegabytes).toBeLessThan(200)
    expect(upload.grewMegabytes).toBeLessThan(300)
  })

  it('is refused by a JSON route too, at its own limit', async () => {
    const upload = await pour('/api/questions', { 'transfer-encoding': 'chunked', 'content-type': 'application/json' })
    expect(upload.status).toBe(413)
    expect(upload.text).toContain('at most 1 MB')
  })

  it('is told why even when it looks late, with no reset before', async () => {
    const cookie = await test.cookie()
    const socket = connect(test.hub.port, '127.0.0.1')
    const errors: unknown[] = []
    socket.on('error', (error) => errors.push(error))
    socket.pause()
    const headers = Object.entries({ host: `127.0.0.1:${test.hub.port}`, ...pageHeaders(test.hub.port, cookie), 'content-length': String(UPLOAD) })
    socket.write(`POST /api/intake/runs?file=huge.csv&only=take HTTP/1.1\r\n${headers.map(([name, value]) => `${name}: ${value}\r\n`).join('')}\r\n`)
    socket.write(Buffer.alloc(16 * MB))
    await new Promise((resolve) => setTimeout(resolve, 300))
    expect(errors).toEqual([])
    const reply = await new Promise<string>((resolve) => {
      socket.once('data', (part) => resolve(String(part)))
      socket.resume()
    })
    expect(reply).toMatch(/^HTTP\/1\.1 413 /)
    socket.destroy()
  })

  it('leaves the hub at work and the workspace as it was', async () => {
    expect((await test.get('/api/lab')).status).toBe(200)
    expect(test.lab.check()).toEqual([])
  })
})
