# Holm's adjustment by R's p.adjust.  Run:  Rscript reference/joint/holm.R > reference/joint/holm.json
lists <- list(c(0.01, 0.04, 0.03, 0.005), c(0.5, 0.5, 0.001), c(0.2), c(1, 0, 0.9, 1e-300), c(0.012, 0.011, 0.013, 0.3, 0.012))
list <- function(v) paste0("[", paste(sprintf("%.17g", v), collapse = ", "), "]")
cat(sprintf('{\n "program": "%s",\n "script": "reference/joint/holm.R",\n "lists": [\n%s\n ]\n}\n', R.version.string,
  paste(vapply(lists, function(p) sprintf('  {"p": %s, "adjusted": %s}', list(p), list(p.adjust(p, "holm"))), ""), collapse = ",\n")))
