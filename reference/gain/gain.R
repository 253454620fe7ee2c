# Gain contrasts of small labs with standard R: lm, t.test, lmer with lmerTest, pt, p.adjust.
# Run:  Rscript reference/gain/gain.R > reference/gain/gain.json
# Scores are drawn here with a seed, rounded to 6 decimals before any calculation and printed in full, so that both sides hold the same doubles.
suppressPackageStartupMessages({library(lme4); library(lmerTest); library(jsonlite)})
options(warn = 2)

# side 0 is A, 1 is B; `hour` is the time of a start on the one rig.
lab <- function(seed, starts, workloads, repeats = 2, sd = c(.004, .003, .002), factorB = 1, drift = 0, holes = function(d) rep(FALSE, nrow(d))) {
  set.seed(seed)
  starts$hour <- (seq_len(nrow(starts)) - 1) * 0.5
  samples <- sort(unique(starts$sample))
  own <- matrix(rnorm(2 * length(samples), 0, sd[1]), 2)
  shift <- rnorm(nrow(starts), 0, sd[2]) * ifelse(starts$side == 1, factorB, 1) + drift * starts$hour
  cells <- expand.grid(workload = seq_len(nrow(workloads)), start = seq_len(nrow(starts)))
  cells <- cells[!holes(cells), ]
  cells$score <- workloads$gain[cells$workload] * starts$side[cells$start] + own[cbind(starts$side[cells$start] + 1, match(starts$sample[cells$start], samples))] +
    shift[cells$start] + rnorm(nrow(cells), 0, sd[3]) * ifelse(starts$side[cells$start] == 1, factorB, 1)
  runs <- cells[rep(seq_len(nrow(cells)), each = repeats), c("start", "workload", "score")]
  sign <- ifelse(workloads$direction == "lower is better", -1, 1)[runs$workload]
  oriented <- runs$score + rnorm(nrow(runs), 0, .001)
  ratio <- (workloads$compares == "ratio")[runs$workload]
  runs$value <- round(ifelse(ratio, workloads$level[runs$workload] * exp(sign * oriented), workloads$level[runs$workload] + 100 * sign * oriented), 6)
  list(starts = starts, workloads = workloads, runs = runs[, c("start", "workload", "value")])
}
workloads <- function(gain, weight = rep(1, length(gain)), compares = "ratio", unit = "points", direction = "higher is better", level = 100)
  data.frame(gain = gain, weight = weight, compares = compares, unit = unit, direction = direction, level = level)
plan <- function(...) do.call(rbind, lapply(list(...), function(x) data.frame(side = x[1], sample = x[2])))
turns <- function(a, b, times) do.call(rbind, rep(list(rbind(data.frame(side = 0, sample = a), data.frame(side = 1, sample = b))), times))

# Mean oriented log score of each start and workload.
cells_of <- function(l) {
  w <- l$workloads[l$runs$workload, ]
  y <- ifelse(w$compares == "ratio", suppressWarnings(log(l$runs$value)), l$runs$value) * ifelse(w$direction == "lower is better", -1, 1)
  d <- aggregate(y ~ workload + start, data.frame(y = y, workload = l$runs$workload, start = l$runs$start), mean)
  cbind(d, l$starts[d$start, c("side", "sample", "hour")], row.names = NULL)
}
# One number a start: the weighted mean over `which`.
start_means <- function(l, which = seq_len(nrow(l$workloads))) {
  d <- cells_of(l); d <- d[d$workload %in% which, ]
  share <- l$workloads$weight / sum(l$workloads$weight[which])
  aggregate(y ~ start + side + sample + hour, transform(d, y = y * share[workload]), sum)
}

out <- function(scope, key, estimate, se, df) {
  t <- qt(.975, df)
  list(scope = scope, key = key, estimate = estimate, standardError = se, df = df, low = estimate - t * se, high = estimate + t * se)
}
of_test <- function(scope, key, test, sign = 1) list(scope = scope, key = key, estimate = unname(if (length(test$estimate) == 2) test$estimate[1] - test$estimate[2] else test$estimate),
  standardError = test$stderr, df = unname(test$parameter), low = test$conf.int[1], high = test$conf.int[2])
satterthwaite <- function(v, df) sum(v)^2 / sum(v^2 / df)

# Samples fixed: residual mean square of starts about their sample, a side at a time.
these <- function(s, key) {
  side <- lapply(0:1, function(k) {
    d <- s[s$side == k, ]
    fit <- if (length(unique(d$sample)) > 1) lm(y ~ factor(sample), d) else lm(y ~ 1, d)
    table <- anova(fit); n <- table(d$sample)
    list(mean = mean(tapply(d$y, d$sample, mean)), v = table["Residuals", "Mean Sq"] * sum(1 / n) / length(n)^2, df = table["Residuals", "Df"])
  })
  v <- c(side[[1]]$v, side[[2]]$v)
  out("these samples", key, side[[2]]$mean - side[[1]]$mean, sqrt(sum(v)), satterthwaite(v, c(side[[1]]$df, side[[2]]$df)))
}
sample_means <- function(s, side) { d <- s[s$side == side, ]; tapply(d$y, d$sample, mean) }
like_same <- function(s, key) of_test("samples like these", key, t.test(sample_means(s, 1) - sample_means(s, 0)))
like_different <- function(s, key, equal = FALSE) of_test("samples like these", key, t.test(sample_means(s, 1), sample_means(s, 0), var.equal = equal))
each_workload <- function(l, f) lapply(seq_len(nrow(l$workloads)), function(w) f(start_means(l, w), paste0("workload:w", w)))

cases <- list()
add <- function(name, tools, l, expect, ...) {
  l$workloads$gain <- NULL
  cases[[length(cases) + 1]] <<- list(name = name, tools = tools, workloads = l$workloads, starts = l$starts, runs = unname(as.matrix(l$runs)), expect = expect, ...)
}

l <- lab(1, turns(1:4, 1:4, 3), workloads(c(.02, .01, .005)))
s <- start_means(l)
add("same samples, balanced", "anova, t.test", l, c(list(these(s, "overall"), like_same(s, "overall")), each_workload(l, these), each_workload(l, like_same)))

# The seventh sample takes its turn in every round: at the end of the day its side would lean late, and a line over time would come out.
l <- lab(2, do.call(rbind, rep(list(rbind(turns(1:3, 4:6, 1), plan(c(1, 7)))), 3)), workloads(c(.02, .01), unit = "s", direction = "lower is better", level = 60))
s <- start_means(l)
add("different samples, three and four", "anova, t.test", l, c(list(these(s, "overall"), like_different(s, "overall")), each_workload(l, like_different)))

l <- lab(3, turns(1:2, 3:4, 3), workloads(c(.02, .01)))
s <- start_means(l)
add("two and two samples, pooled", "anova, t.test with var.equal", l, list(these(s, "overall"), like_different(s, "overall", TRUE)))

l <- lab(4, rbind(plan(c(1, 1)), turns(1:3, 1:3, 1), plan(c(0, 3), c(1, 2)), turns(1:3, 1:3, 1), plan(c(1, 1))), workloads(c(.012, .01)), factorB = 3)
s <- start_means(l)
add("same samples, unequal noise and unequal starts", "anova, t.test", l, list(these(s, "overall"), like_same(s, "overall")))

l <- lab(5, turns(1:3, 1:3, 3), workloads(c(.03, -.01, .004), weight = c(5, 2, 1)))
s <- start_means(l)
add("weights 5, 2 and 1", "anova, t.test", l, list(these(s, "overall"), like_same(s, "overall")))

l <- lab(6, turns(1, 1, 5), workloads(c(.006, .004)))
s <- start_means(l)
add("one sample", "t.test", l, list(of_test("these samples", "overall", t.test(s$y[s$side == 1], s$y[s$side == 0]))))

l <- lab(7, plan(c(0, 1), c(1, 1), c(1, 1), c(0, 1), c(1, 1), c(1, 1)), workloads(c(.01, .02)))
s <- start_means(l)
add("one sample, two starts on one side, pooled", "t.test with var.equal", l, list(of_test("these samples", "overall", t.test(s$y[s$side == 1], s$y[s$side == 0], var.equal = TRUE))))

# Holes: restricted maximum likelihood on z = W w y, a side at a time.
holed <- function(l) {
  d <- cells_of(l)
  d$z <- nrow(l$workloads) * l$workloads$weight[d$workload] / sum(l$workloads$weight) * d$y
  side <- lapply(0:1, function(k) {
    e <- d[d$side == k, ]; e$cell <- factor(paste(e$sample, e$workload, sep = "."))
    model <- lmer(z ~ 0 + cell + (1 | start), e, REML = TRUE, control = lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-12, maxfun = 1e5), check.conv.grad = .makeCC("ignore", 1)))
    if (isSingular(model)) stop("row variance at zero")
    contest1D(model, rep(1 / nlevels(e$cell), nlevels(e$cell)))
  })
  v <- c(side[[1]]$`Std. Error`, side[[2]]$`Std. Error`)^2
  out("these samples", "overall", side[[2]]$Estimate - side[[1]]$Estimate, sqrt(sum(v)), satterthwaite(v, c(side[[1]]$df, side[[2]]$df)))
}
l <- lab(8, turns(1:3, 1:3, 4), workloads(c(.02, .01, .005, .015)), sd = c(.004, .004, .002), holes = function(d) runif(nrow(d)) < .15)
add("missing cells", "lmer, lmerTest", l, list(holed(l)))
l <- lab(9, turns(1:2, 3:4, 6), workloads(c(.02, .01, .005), weight = c(3, 2, 2)), sd = c(.004, .004, .002), holes = function(d) runif(nrow(d)) < .15)
add("missing cells, weights 3, 2 and 2", "lmer, lmerTest", l, list(holed(l)))

# Drift. Starts of one side scatter by too few degrees of freedom for a variance of its own: then all is one analysis of covariance.
covariance <- function(s) {
  fit <- lm(y ~ factor(side) + hour, s); k <- summary(fit)$coefficients["factor(side)1", ]
  out("these samples", "overall", k[["Estimate"]], k[["Std. Error"]], fit$df.residual)
}
l <- lab(10, plan(c(0, 1), c(1, 1), c(1, 1), c(1, 1), c(0, 1), c(1, 1), c(1, 1), c(1, 1)), workloads(c(.01, .02)), drift = -.01, sd = c(.004, .001, .001))
add("drift taken out, one variance", "lm", l, list(covariance(start_means(l))))
# A variance a side: the slope from one model over all starts, mean squares of what is left by side.
line_out <- function(s) {
  fit <- lm(y ~ factor(paste(side, sample)) + hour, s)
  slope <- summary(fit)$coefficients["hour", ]
  middle <- function(k) mean(tapply(s$hour[s$side == k], s$sample[s$side == k], mean))
  extra <- ((middle(1) - middle(0)) * slope[["Std. Error"]])^2
  flat <- transform(s, y = y - slope[["Estimate"]] * hour)
  # The slope was fitted to all residuals: of their N degrees of freedom N - 1 are left, so mean squares rise and Welch's df fall by that share.
  apart <- these(flat, "overall"); left <- fit$df.residual / (fit$df.residual + 1)
  found <- list(out("these samples", "overall", apart$estimate, sqrt(apart$standardError^2 / left + extra), apart$df * left))
  if (length(unique(s$sample)) == 1) return(found)
  like <- sample_means(flat, 1) - sample_means(flat, 0)
  v <- c(var(like) / length(like), extra)
  c(found, list(out("samples like these", "overall", mean(like), sqrt(sum(v)), satterthwaite(v, c(length(like) - 1, fit$df.residual)))))
}
l <- lab(11, rbind(turns(1:3, 1:3, 2), plan(c(1, 1), c(1, 2), c(1, 3), c(1, 1), c(1, 2), c(1, 3))), workloads(c(.01, .02)), drift = -.01, sd = c(.004, .001, .001))
add("drift taken out, a variance a side", "lm, anova", l, line_out(start_means(l)))
# A B B A: the line over time costs nothing, so it goes out though it does not show.
l <- lab(15, plan(c(0, 1), c(1, 1), c(1, 1), c(0, 1), c(0, 1), c(1, 1), c(1, 1), c(0, 1), c(0, 1), c(1, 1), c(1, 1), c(0, 1)), workloads(c(.01, .02)))
add("sides in turns, a line that does not show", "lm, anova", l, line_out(start_means(l)))
# All but one start of A before all but one of B: the line goes out though it does not show, or a drift would pass for gain.
l <- lab(17, plan(c(0, 1), c(0, 1), c(0, 1), c(0, 1), c(1, 1), c(0, 1), c(1, 1), c(1, 1), c(1, 1), c(1, 1)), workloads(c(.01, .02)), drift = .001)
add("one side later, a line that does not show", "lm, anova", l, line_out(start_means(l)))

l <- lab(12, turns(1:3, 1:3, 3), workloads(.03, compares = "difference", unit = "degC", direction = "lower is better", level = 70))
s <- start_means(l)
add("temperature, a difference", "anova, t.test", l, list(these(s, "overall"), like_same(s, "overall")))

# Worth: chances from the t about the estimate. Holm: on the two-sided tests of the workloads against no difference.
l <- lab(13, turns(1:3, 1:3, 4), workloads(c(.012, .011, .004, .001, .003), unit = "points"), sd = c(.002, .003, .002))
s <- start_means(l); o <- these(s, "overall"); rows <- each_workload(l, these)
p <- sapply(rows, function(r) 2 * pt(-abs(r$estimate / r$standardError), r$df))
# Break-even worth of one percent, and the chances that the gain exceeds what the price asks for.
worth_of <- function(o, money) {
  chance <- function(gain) pt((o$estimate - log1p(gain)) / o$standardError, o$df)
  price <- function(gain) if (gain > 0) money$extraPrice / (100 * expm1(gain)) else NA
  list(value = price(o$estimate), low = price(o$high), high = price(o$low),
       pays = chance(money$extraPrice / money$worthOfOnePercent / 100), part = chance(money$extraPrice / money$partPrice), machine = chance(money$extraPrice / money$machinePrice))
}
money <- list(extraPrice = 60, worthOfOnePercent = 100, partPrice = 6000, machinePrice = 9000)
add("worth and joint verdicts", "pt, p.adjust", l, c(list(o), rows),
    money = money, worth = worth_of(o, money), holm = list(p = p, adjusted = p.adjust(p, "holm")))
# A gain so large that percent and logarithm part.
l <- lab(16, turns(1, 1, 5), workloads(.19), sd = c(.001, .03, .01))
s <- start_means(l); o <- of_test("these samples", "overall", t.test(s$y[s$side == 1], s$y[s$side == 0]))
money <- list(extraPrice = 600, worthOfOnePercent = 30, partPrice = 3000, machinePrice = 4000)
add("worth of a large gain", "t.test, pt", l, list(o), money = money, worth = worth_of(o, money))

cat(toJSON(list(program = sprintf("%s, lme4 %s, lmerTest %s, jsonlite %s", R.version.string, packageVersion("lme4"), packageVersion("lmerTest"), packageVersion("jsonlite")),
                script = "reference/gain/gain.R", cases = cases), auto_unbox = TRUE, digits = NA, na = "null", dataframe = "rows"), "\n")
