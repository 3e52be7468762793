using Hangfire.Common;

namespace Registry.Platform.Jobs;

/// <summary>The name a job's class had in an earlier release: jobs stored under it still run.</summary>
/// <param name="Name">Full name of the class, as Hangfire stored it.</param>
/// <param name="Job">The class today.</param>
public sealed record FormerJobName(string Name, Type Job)
{
    /// <summary>Finds the class of a stored job, under its former name too.</summary>
    public static Func<string, Type> Resolver(IEnumerable<FormerJobName> former)
    {
        var jobs = former.ToDictionary(f => f.Name, f => f.Job);
        return stored => jobs.TryGetValue(stored.Split(',')[0], out var job) ? job : TypeHelper.DefaultTypeResolver(stored);
    }
}
