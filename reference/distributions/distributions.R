# Values of the normal and Student t distributions, with their tails, at full double precision.
# Run:  Rscript reference/distributions/distributions.R > reference/distributions/distributions.json
# Inputs are printed as they are held (17 significant digits), so a reader gets the same doubles.

number <- function(x) ifelse(is.infinite(x), ifelse(x > 0, '"Infinity"', '"-Infinity"'), sprintf("%.17g", x))
rows <- function(name, frame) {
  fields <- vapply(seq_len(nrow(frame)), function(i)
    paste0("    {", paste(sprintf('"%s": %s', names(frame), vapply(frame[i, ], number, "")), collapse = ", "), "}"), "")
  paste0('  "', name, '": [\n', paste(fields, collapse = ",\n"), "\n  ]")
}

df <- c(0.5, 0.7, 1, 2, 2.3, 7.21, 30, 1e6, Inf)
# The middle (p near 1/2) is in central.py.
p <- c(1e-12, 1e-6, 0.0005, 0.025, 0.1, 0.4, 0.6, 0.9, 0.975, 0.9995)
tq <- expand.grid(p = p, df = df)
tq$t <- mapply(qt, tq$p, tq$df)

t <- c(-1e4, -200, -34.8015484318404, -31, -6, -1.2, 0, 0.3, 2, 10, 34.8015484318404, 200)
tp <- expand.grid(t = t, df = df)
tp$lower <- mapply(pt, tp$t, tp$df)
tp$upper <- mapply(function(t, df) pt(t, df, lower.tail = FALSE), tp$t, tp$df)

z <- c(1e-300, 1e-100, 1e-30, 1e-20, 1e-12, 1e-8, 1e-4, 0.01, 0.024, 0.025, 0.075, 0.0751, 0.3, 0.5 - 1e-9, 0.5, 0.5 + 1e-9, 0.925, 0.975, 0.995, 1 - 1e-9)
nq <- data.frame(p = z, x = qnorm(z))
x <- c(-37, -20, -10, -6, -3, -1, -0.5, -1e-9, 0, 1e-9, 0.5, 1, 3, 6, 8)
np <- data.frame(x = x, lower = pnorm(x))

cat("{\n", sprintf('  "program": "%s",\n  "script": "reference/distributions/distributions.R",\n', R.version.string),
    paste(rows("tQuantile", tq), rows("t", tp), rows("normalQuantile", nq), rows("normal", np), sep = ",\n"), "\n}\n", sep = "")
