namespace Registry.Erasure;

/// <summary>What the pages of erasure answer, in words.</summary>
internal static class ErasureWords
{
    public static string Of(ErasureAnswer answer) => answer switch
    {
        ErasureAnswer.Asked => "Asked. Another coordinator has to look at it and do it.",
        ErasureAnswer.Refused => "Refused. Nothing was removed.",
        ErasureAnswer.Erased => "The values are removed. What is counted stays.",
        ErasureAnswer.AskedAlready => "Somebody has asked for this already.",
        ErasureAnswer.NeedsAnother => "You asked for it yourself: another coordinator has to do it.",
        ErasureAnswer.StillProcessed => "A file that names this infant is still being worked through. Try again when it is done.",
        _ => "There is no such request, or it was decided before.",
    };
}
