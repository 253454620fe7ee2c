# Mixed model with one random intercept a row, on tables with holes: lme4 (REML) and lmerTest (Satterthwaite).
# Run:  Rscript reference/row-intercepts/row-intercepts.R > reference/row-intercepts/row-intercepts.json
# Data are drawn here with a seed and printed in full, rounded to 6 decimals before the fit so that both sides hold the same doubles.
suppressPackageStartupMessages({library(lme4); library(lmerTest)})
options(warn = 2)

draw <- function(seed, rowsPerGroup, columns, sdRow, sdCell, holes) {
  set.seed(seed)
  groupOfRow <- rep(seq_along(rowsPerGroup), rowsPerGroup)
  cells <- expand.grid(row = seq_along(groupOfRow), column = seq_len(columns))
  cells$group <- groupOfRow[cells$row]
  mean <- matrix(rnorm(length(rowsPerGroup) * columns, 4, 0.5), length(rowsPerGroup))
  shift <- rnorm(length(groupOfRow), 0, sdRow)
  cells$value <- round(mean[cbind(cells$group, cells$column)] + shift[cells$row] + rnorm(nrow(cells), 0, sdCell), 6)
  cells <- cells[!holes(cells), ]
  list(groupOfRow = groupOfRow, columns = columns, cells = cells[order(cells$row, cells$column), ])
}
at_random <- function(share) function(d) runif(nrow(d)) < share

sets <- list(
  list(name = "one group, one cell in five missing", data = draw(11, 8, 4, 0.03, 0.02, at_random(0.2))),
  list(name = "one group, two columns, the second missing in four rows", data = draw(12, 10, 2, 0.02, 0.02, function(d) d$column == 2 & d$row %in% c(2, 5, 6, 9))),
  list(name = "four groups, one cell in seven missing", data = draw(13, c(6, 6, 6, 6), 5, 0.02, 0.03, at_random(0.15))),
  list(name = "four groups, one group without a column", data = draw(14, c(5, 5, 5, 5), 4, 0.04, 0.02, function(d) d$group == 2 & d$column == 3)),
  list(name = "four groups of unequal size, each row without one column", data = draw(15, c(3, 4, 6, 9), 4, 0.03, 0.03, function(d) d$row %% 4 + 1 == d$column)),
  list(name = "one group in two blocks of columns that no row links", data = draw(16, 12, 4, 0.05, 0.02, function(d) (d$row <= 6) != (d$column <= 2))),
  list(name = "two groups, balanced", data = draw(17, c(5, 5), 3, 0.02, 0.01, function(d) rep(FALSE, nrow(d)))),
  list(name = "two groups, many rows, one cell in four missing", data = draw(18, c(60, 60), 8, 0.05, 0.02, at_random(0.25))),
  list(name = "four groups, small row variance", data = draw(20, c(7, 7, 7, 7), 3, 0.01, 0.02, at_random(0.1))),
  list(name = "one group, last column in two rows only", data = draw(21, 9, 3, 0.03, 0.02, function(d) d$column == 3 & d$row > 2))
)

vec <- function(v) paste0("[", paste(sprintf("%.17g", v), collapse = ", "), "]")
mat <- function(m) paste0("[", paste(apply(m, 1, vec), collapse = ", "), "]")

one <- function(set) {
  d <- set$data$cells
  groups <- max(set$data$groupOfRow)
  d$cell <- factor(paste(d$group, d$column, sep = "."))
  model <- lmer(value ~ 0 + cell + (1 | row), d, REML = TRUE,
                control = lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-12, maxfun = 1e5), check.conv.grad = .makeCC("ignore", 1)))
  if (isSingular(model)) stop("row variance at zero in: ", set$name)
  present <- function(g) sort(unique(d$column[d$group == g]))
  names <- sub("^cell", "", names(fixef(model)))
  contrasts <- list()
  add <- function(label, m) contrasts[[length(contrasts) + 1]] <<- list(label = label, m = m)
  zero <- matrix(0, groups, set$data$columns)
  m <- zero; m[1, present(1)] <- 1 / length(present(1)); add("mean of group 1 over its columns", m)
  m <- zero; m[groups, max(present(groups))] <- 1; add("last column of the last group", m)
  m <- zero; m[1, present(1)[1]] <- 1; m[1, present(1)[2]] <- -1; add("first less second column of group 1", m)
  if (groups > 1) {
    both <- intersect(present(1), present(2))
    m <- zero; m[2, both] <- 1 / length(both); m[1, both] <- -1 / length(both); add("group 2 less group 1, shared columns alike", m)
    m <- zero; m[2, both] <- seq_along(both) / sum(seq_along(both)); m[1, both] <- -m[2, both]; add("group 2 less group 1, weights rising", m)
  }
  answers <- vapply(contrasts, function(k) {
    L <- vapply(strsplit(names, ".", fixed = TRUE), function(x) k$m[as.integer(x[1]), as.integer(x[2])], 0)
    a <- contest1D(model, L)
    sprintf('     {"label": "%s", "coefficients": %s, "estimate": %.17g, "standardError": %.17g, "df": %.17g}',
            k$label, mat(k$m), a$Estimate, a$`Std. Error`, a$df)
  }, "")
  sigma2 <- sigma(model)^2
  sprintf('  {"name": "%s", "groupCount": %d, "columnCount": %d,\n   "groupOfRow": %s,\n   "rows": %s,\n   "columns": %s,\n   "values": %s,\n   "lambda": %.17g, "sigma2": %.17g,\n   "contrasts": [\n%s]}',
          set$name, groups, set$data$columns, vec(set$data$groupOfRow - 1), vec(d$row - 1), vec(d$column - 1), vec(d$value),
          as.numeric(getME(model, "theta"))^2, sigma2, paste(answers, collapse = ",\n"))
}

cat(sprintf('{\n "program": "%s, lme4 %s, lmerTest %s",\n "script": "reference/row-intercepts/row-intercepts.R",\n "sets": [\n', R.version.string, packageVersion("lme4"), packageVersion("lmerTest")))
cat(paste(vapply(sets, one, ""), collapse = ",\n"))
cat("\n ]\n}\n")
