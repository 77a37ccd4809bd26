use crate::audit::finding::Finding;
use crate::audit::rule::{FastenerCase, rule};
use crate::record::Role;
use crate::thread::System;

rule! {
    /// A thread class that does not belong to the thread.
    ///
    /// # Why it matters
    /// Metric threads have classes such as 6g and 6H, inch threads such as 2A and 2B. When thread and class belong to
    /// different systems, one of them was copied from another line, and the thread is probably not the one stated. A
    /// class of nut threads on a bolt (6H for 6g) is a slip too, but a small one: a `note`.
    ///
    /// # Flagged
    /// ```json
    /// { "thread": "M8", "thread_class": "2A" }
    /// ```
    /// ```json
    /// { "thread": "3/8-16 UNC", "thread_class": "6g" }
    /// ```
    /// ```json
    /// { "thread": "M8", "thread_class": "6H" }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "thread": "M8", "thread_class": "6g" }
    /// ```
    /// ```json
    /// { "thread": "3/8-16 UNC", "thread_class": "2A" }
    /// ```
    /// ```json
    /// { "thread": "M8", "thread_class": "6H", "role": "nut" }
    /// ```
    ///
    /// # Sources
    /// ISO 965-1 (metric classes); ASME B1.1 (classes 1A to 3B).
    "thread-class-of-the-other-system", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let (thread, role) = (&case.fastener.thread, case.fastener.role());
    let Some(class) = &case.fastener.thread_class else { return Vec::new() };
    let Some(system) = thread.system() else { return Vec::new() };
    let field = "thread_class";
    if !class.is_known() {
        let message = format!("{class} is no class of ISO 965-1 or ASME B1.1");
        return vec![Finding::warning(field, message).found(class)];
    }
    let usual = |external| thread.usual_class(external).map(|class| class.to_string());
    let is_nut = matches!(role, Role::Nut | Role::ShaftNut | Role::UnionNut | Role::LockNut | Role::Wheel);
    if !class.belongs_to(system) {
        let message = match system {
            System::Metric => format!("{class} is a class of inch threads, and {thread} is metric"),
            System::Unified => format!("{class} is a class of metric threads, and {thread} is an inch thread"),
        };
        let meant = usual(class.is_external() != Some(false));
        return vec![Finding::warning(field, message).found(class).one_of(meant)];
    }
    if class.is_external() == Some(false) && !is_nut {
        let message = format!("{class} is a class of nut threads, and this is a {}", role.words());
        return vec![Finding::note(field, message).found(class).one_of(usual(true))];
    }
    Vec::new()
}
