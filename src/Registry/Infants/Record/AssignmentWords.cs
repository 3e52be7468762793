using Registry.Ui;

namespace Registry.Infants.Record;

/// <summary>What pages say of case workers and their infants.</summary>
public static class AssignmentWords
{
    public static string Of(AssignAnswer answer) => answer switch
    {
        { Problem: AssignProblem.NobodyTicked } => "Tick the infants first, at most 500.",
        { Problem: AssignProblem.Taken } => "It is another person's: a coordinator can give it to you.",
        { Problem: not null } => "There is no such case worker.",
        { Changed: 0 } => "They were so before: nothing changes.",
        { Worker: { } name } => $"{Words.Count(answer.Changed, "infant is", "infants are")} assigned to {name}, who sees "
            + $"{(answer.Changed == 1 ? "it" : "them")} from the next page on.",
        _ => $"{Words.Count(answer.Changed, "infant is", "infants are")} assigned to nobody.",
    };

    public static string Of(CaseWorker worker) =>
        worker.Counties.Count == 0 ? worker.Name : $"{worker.Name} ({Words.List(worker.Counties)})";

    public static string Worker(string name) => $"Case worker: {name}";

    public static string Of(Assigned given) => given.EndedAt is { } ended
        ? $"{given.Worker}, from {Words.Time(given.AssignedAt)} (given by {given.AssignedBy}) to {Words.Time(ended)}"
        : $"{given.Worker}, since {Words.Time(given.AssignedAt)} (given by {given.AssignedBy})";
}
