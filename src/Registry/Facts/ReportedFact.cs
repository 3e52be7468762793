namespace Registry.Facts;

/// <summary>What a row says, without who said it when. Two equal ones are the same fact. Each kind stands in a file of its own
/// (<c>ReportedBirth.cs</c> and so on) with its table and what follows when it is reported again.</summary>
public abstract record ReportedFact
{
    /// <summary>The day it happened, to be compared with the birth.</summary>
    public abstract DateOnly On { get; }

    /// <summary>The day it ended, where a kind has one and it was reported.</summary>
    public virtual DateOnly? Until => null;

    /// <summary>The one coded value that says most, for formats that hold a fact in a code; null where there is none.</summary>
    public virtual string? Code => null;

    /// <summary>Nobody said of which day it is. Then it says what holds now: where it repeats what its site said last it says nothing new,
    /// and where the site said something else in between it does.</summary>
    public virtual bool IsUndated => false;

    /// <summary>Would this, said later, hold in the place of the other? Only of what changes, and is said again as it changes.</summary>
    public virtual bool Outdates(ReportedFact earlier) => false;

    internal abstract FactVerdict ComparedWith(ReportedFact recorded, bool sameSite, out ReportedFact result);
    internal abstract bool IsAboutTheSameAs(ReportedFact recorded);
    internal abstract bool TakesBack(ReportedFact recorded);
}

/// <summary>A kind of fact: how it is compared with another one of its kind. It is never the same as a fact of another.</summary>
public abstract record ReportedFact<T> : ReportedFact where T : ReportedFact<T>
{
    internal sealed override FactVerdict ComparedWith(ReportedFact recorded, bool sameSite, out ReportedFact result)
    {
        result = this;
        if (recorded is not T known) return FactVerdict.New;
        var verdict = ComparedWith(known, sameSite, out var both);
        result = both;
        return verdict;
    }

    internal sealed override bool IsAboutTheSameAs(ReportedFact recorded) => recorded is T known && IsAboutTheSameAs(known);

    internal sealed override bool TakesBack(ReportedFact recorded) => recorded is T known && IsAboutTheSameAs(known) && TakesBack(known);

    /// <summary>What follows when this is reported and the other is recorded.</summary>
    /// <param name="recorded">Of the same infant.</param>
    /// <param name="sameSite">Both come from one site.</param>
    /// <param name="result">The fact to record instead, when it replaces.</param>
    protected virtual FactVerdict ComparedWith(T recorded, bool sameSite, out T result)
    {
        result = (T)this;
        return Equals(recorded) ? FactVerdict.Same : FactVerdict.New;
    }

    /// <summary>May a correction to this mean what is recorded? What names a fact, without what it says.</summary>
    protected abstract bool IsAboutTheSameAs(T recorded);

    /// <summary>Does a retraction of this mean what is recorded, when it is about the same? An event that is all name is named
    /// whole.</summary>
    protected virtual bool TakesBack(T recorded) => true;

    /// <summary>The row leaves out what is recorded, or repeats it.</summary>
    protected static bool SaysNoOther<TValue>(TValue? row, TValue? recorded) =>
        row is null || EqualityComparer<TValue>.Default.Equals(row, recorded);
}

/// <summary>The infant of <c>record_number</c> was known under another number of the same site before. Attaches the numbers; it is no
/// fact of its own, is in no table, and never makes one infant of two.</summary>
public sealed record ReportedMerge(string PriorRecordNumber) : ReportedFact
{
    public override DateOnly On => DateOnly.MaxValue;

    internal override FactVerdict ComparedWith(ReportedFact recorded, bool sameSite, out ReportedFact result)
    {
        result = this;
        return FactVerdict.New;
    }

    internal override bool IsAboutTheSameAs(ReportedFact recorded) => false;
    internal override bool TakesBack(ReportedFact recorded) => false;
}
