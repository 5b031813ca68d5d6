# R's answers for models with crossed factors. Writes data/crossed_cohort.csv (an invented cohort), then crossed.json.
# Run in tests/reference: Rscript make_crossed.R  (r-cran-lme4, lmertest, pbkrtest, emmeans, nlme, jsonlite, numderiv)
library(jsonlite)
source("truth_lib.R")

# Eleven yards, most with a farrier of their own, others coming in now and then; an observer per visit; ragged numbers of
# horses, visits and feet. `angle` holds both crossed effects, `length` neither of them.
invent <- function(seed) {
  set.seed(seed, kind = "Mersenne-Twister", normal.kind = "Inversion", sample.kind = "Rejection")
  rows <- list()
  farrier <- rnorm(7, sd = 1.2); observer <- rnorm(4, sd = 0.7); feet <- c("LF", "RF", "LH", "RH")
  for (yard in 1:11) {
    u <- rnorm(2, sd = 0.8); home <- sample(7, 1)
    for (horse in seq_len(sample(2:5, 1))) {
      h <- rnorm(2, sd = 1); f <- matrix(rnorm(8, sd = 0.6), 2); keep <- sort(sample(4, sample(2:4, 1)))
      for (visit in seq_len(sample(2:4, 1))) {
        v <- rnorm(2, sd = 0.5); who <- if (runif(1) < 0.6) home else sample(7, 1); by <- sample(4, 1); trim <- sample(35:80, 1)
        for (k in keep) if (runif(1) > 0.08) {
          x <- 0.03 * (trim - 55) + 0.8 * (k > 2)
          e <- rnorm(2, sd = 0.9)
          rows[[length(rows) + 1]] <- data.frame(yard = paste0("Y", yard), horse = paste0("H", horse), foot = feet[k], visit = visit,
            farrier = paste0("F", who), observer = paste0("O", by), trim = trim, place = if (k > 2) "hind" else "fore",
            angle = round(50 + x + u[1] + h[1] + f[1, k] + v[1] + farrier[who] + observer[by] + e[1], 2),
            length = round(80 + 2 * x + u[2] + h[2] + f[2, k] + v[2] + e[2], 2))
        }
      }
    }
  }
  do.call(rbind, rows)
}
write.csv(invent(6), "data/crossed_cohort.csv", row.names = FALSE, quote = FALSE)
text <- c(yard = "character", horse = "character", foot = "character", visit = "character", farrier = "character", observer = "character", place = "factor")
cohort <- read.csv("data/crossed_cohort.csv", colClasses = text)
penicillin <- read.csv("data/penicillin.csv", colClasses = c(plate = "factor", sample = "factor"))

nested <- "(1 | yard) + (1 | yard:horse) + (1 | yard:horse:foot) + (1 | yard:horse:visit)"
cases <- list(
  penicillin = list(d = penicillin, f = "diameter ~ 1 + (1 | plate) + (1 | sample)"),
  farrier = list(d = cohort, f = paste("angle ~ trim + place +", nested, "+ (1 | farrier)")),
  farrier_and_observer = list(d = cohort, f = paste("angle ~ trim + place +", nested, "+ (1 | farrier) + (1 | observer)")),
  farrier_at_zero = list(d = cohort, f = paste("length ~ trim + place +", nested, "+ (1 | farrier)")),
  horse_and_farrier = list(d = cohort, f = "angle ~ trim * place + (1 | yard:horse) + (1 | farrier) + (1 | observer)"))
for (k in names(cases)) cases[[k]]$profile <- k %in% c("penicillin", "horse_and_farrier")  # the others take R long
answer <- function(case, reml) {
  r <- one_fit(as.formula(case$f), case$d, reml, list()); if (!is.null(r$error)) stop(r$error)
  o <- r$out
  out <- list(n_obs = o$n_obs, n_groups = o$n_groups, coef_names = o$coef_names, beta = o$beta, se = o$se, variances = o$variances, criterion = o$criterion, boundary = o$boundary,
    satterthwaite_df = o$satterthwaite_analytic$df, icc = o$icc, r2 = o$r2[c("marginal", "conditional")], ranef = o$ranef, fitted = o$fitted, max_scaled_score = o$checks$max_scaled_score)
  if (reml) out <- c(out, list(kenward_roger_se = o$kenward_roger$se, kenward_roger_df = o$kenward_roger$df, kenward_roger_dense_df = o$kenward_roger_dense$df,
    tests = lapply(o$anova_type3_kenward_roger, function(t) t[c("NumDF", "DenDF", "F", "p")])))
  if (!reml && case$profile) { p <- prof_exact(r$D, r$s); out$profile_sd95 <- setNames(p$sd, c(r$grp, "Residual")) }
  arrays(out)
}
models <- lapply(cases, function(case) list(formula = case$f, REML = answer(case, TRUE), ML = answer(case, FALSE)))
for (m in models) for (k in c("REML", "ML")) cat(m$formula, k, "score", m[[k]]$max_scaled_score, "boundary", unlist(m[[k]]$boundary), "\n")
write(toJSON(list(R = R.version.string, lme4 = as.character(packageVersion("lme4")), lmerTest = as.character(packageVersion("lmerTest")), pbkrtest = as.character(packageVersion("pbkrtest")),
  models = models), digits = NA, auto_unbox = TRUE), "crossed.json")
