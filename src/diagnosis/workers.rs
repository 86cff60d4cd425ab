//! Many like jobs done by several workers, with what one worker would have made of them.

/// Workers.
const WORKERS: usize = 4;
/// Fewer jobs than this are not worth the workers.
const WORTH_WORKERS: usize = 48;

/// Does all jobs, by several workers if there are many; in the order of the jobs. What a worker could not do is
/// missing.
pub fn by_workers<J: Sync, R: Send>(jobs: &[J], one: impl Fn(&J) -> R + Sync) -> Vec<Option<R>> {
    by_workers_with(jobs, || (), |(), job| one(job))
}

/// The same where a worker has something of its own to work with, made by `own`.
pub fn by_workers_with<J: Sync, R: Send, O>(
    jobs: &[J],
    own: impl Fn() -> O + Sync,
    one: impl Fn(&mut O, &J) -> R + Sync,
) -> Vec<Option<R>> {
    let part = |jobs: &[J]| {
        let mut own = own();
        jobs.iter().map(|job| one(&mut own, job)).collect::<Vec<R>>()
    };
    if jobs.len() < WORTH_WORKERS {
        return part(jobs).into_iter().map(Some).collect();
    }
    let part = &part;
    let size = jobs.len().div_ceil(WORKERS);
    std::thread::scope(|scope| {
        let hands: Vec<_> = jobs
            .chunks(size)
            .map(|jobs| (jobs.len(), std::thread::Builder::new().spawn_scoped(scope, move || part(jobs))))
            .collect();
        let mut out: Vec<Option<R>> = Vec::with_capacity(jobs.len());
        for (count, hand) in hands {
            match hand.ok().and_then(|hand| hand.join().ok()) {
                Some(done) => out.extend(done.into_iter().map(Some)),
                None => out.extend((0..count).map(|_| None)),
            }
        }
        out
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_jobs_and_few_come_back_in_order() {
        for count in [3, WORTH_WORKERS * 2 + 1] {
            let jobs: Vec<usize> = (0..count).collect();
            let done: Vec<usize> = by_workers(&jobs, |job| job * 2).into_iter().flatten().collect();
            assert_eq!(done, jobs.iter().map(|job| job * 2).collect::<Vec<_>>());
        }
    }
}
