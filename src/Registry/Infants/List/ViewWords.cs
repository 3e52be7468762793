namespace Registry.Infants.List;

/// <summary>What pages say of saved views.</summary>
public static class ViewWords
{
    public static string Of(ViewAnswer answer) => answer switch
    {
        ViewAnswer.Saved => "The view is saved.",
        ViewAnswer.Renamed => "Changed.",
        ViewAnswer.Discarded => "The view is discarded.",
        ViewAnswer.DefaultSet => "The list opens so from now on.",
        ViewAnswer.NoName => $"Give it a name of at most {KeepViews.LongestName} characters.",
        ViewAnswer.TooMany => $"You have {KeepViews.Most} views: discard one first.",
        _ => "There is no such view of yours.",
    };
}
