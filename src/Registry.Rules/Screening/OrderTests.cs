using Registry.Rules.Facts;

namespace Registry.Rules.Screening;

internal static class OrderTests
{
    /// <summary>
    /// Fills <paramref name="order"/> with the indices of <paramref name="tests"/> by time. Tests at the same moment are
    /// put in an order that does not depend on how they arrived, a refer last, so that it is the one that counts.
    /// </summary>
    public static void ByTime(ReadOnlySpan<ScreeningTest> tests, Span<int> order)
    {
        for (var i = 0; i < order.Length; i++)
        {
            var at = i;
            while (at > 0 && Compare(tests[order[at - 1]], tests[i]) > 0)
            {
                order[at] = order[at - 1];
                at--;
            }

            order[at] = i;
        }
    }

    private static int Compare(in ScreeningTest a, in ScreeningTest b)
    {
        var c = a.PerformedAt.CompareTo(b.PerformedAt);
        if (c != 0) return c;
        c = Weight(a.Outcome) - Weight(b.Outcome);
        if (c != 0) return c;
        c = (int)a.Method - (int)b.Method;
        if (c != 0) return c;
        c = (int)a.Stage - (int)b.Stage;
        if (c != 0) return c;
        c = Nullable.Compare(a.SiteId, b.SiteId);
        if (c != 0) return c;
        c = (int)a.Ear - (int)b.Ear;
        return c != 0 ? c : (int)a.Reason - (int)b.Reason;
    }

    private static int Weight(ScreeningOutcome outcome) => outcome switch
    {
        ScreeningOutcome.NotPerformed => 0,
        ScreeningOutcome.NoValidResult => 1,
        ScreeningOutcome.Pass => 2,
        _ => 3,
    };
}
