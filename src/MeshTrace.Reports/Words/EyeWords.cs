using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.ReceiversEye;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Reports.Words;

/// <summary>What the receiver's eye says of an element that was not heard to answer a press, in a phrase; or of several, of which it says the same.</summary>
internal static class EyeWords
{
    /// <summary>The same request within this time may have one answer between them, and that counts for the newest (Mesh Model 1.1 §3.3).</summary>
    private const long SameNs = 6_000_000_000;

    private static readonly Words One = new("it", "has", "is", "does", "its", "it"), Several = new("they", "have", "are", "do", "their", "them");

    /// <param name="history">The capture.</param>
    /// <param name="press">Row of the press.</param>
    /// <param name="element">One of those that should have acted.</param>
    /// <param name="several">It is said of more than this one.</param>
    public static string Of(CaptureHistory history, int press, MeshAddress element, bool several = false)
    {
        EyeView view = history.ReceiversEye(press, element);
        Words words = several ? Several : One;
        if (view.Verdict is EyeVerdict.ShouldHaveActed or EyeVerdict.CannotTell && AnsweredTheSame(history, press, element))
            return $"{words.Their} answer to the same request right beside this one was heard, and may do for both";
        return view.Verdict switch
        {
            EyeVerdict.Acted => $"{words.Their} answer was heard",
            EyeVerdict.ShouldHaveActed => $"nothing known kept {words.Them} from acting, and {words.Their} answer would have been heard",
            EyeVerdict.Rejected => Sure(view.Confidence) + Rejection(view, words),
            _ => "cannot be told" + Doubt(view, words),
        };
    }

    private static bool AnsweredTheSame(CaptureHistory history, int row, MeshAddress element)
    {
        Press press = history.Presses[row];
        if (press.TimeNs == CapturedFrame.NoTime)
            return false;
        for (int step = -1; step <= 1; step += 2)
        {
            for (int at = row + step; at >= 0 && at < history.Presses.Count && Math.Abs(history.Presses[at].TimeNs - press.TimeNs) <= SameNs; at += step)
                if (history.Presses[at] is var other && other.Src == press.Src && other.Dst == press.Dst && other.Asks == press.Asks && other.Answers.Any(answer => answer.Element == element))
                    return true;
        }
        return false;
    }

    private static string Sure(Confidence confidence) => confidence switch
    {
        Confidence.Certain => "",
        Confidence.Likely => "likely ",
        _ => "possibly ",
    };

    private static string Rejection(EyeView view, Words words) => view.Step switch
    {
        ReceiveStep.NetworkKey when view.OutOfNetwork => "in no network then (reset, or not provisioned yet)",
        ReceiveStep.NetworkKey => $"{words.They} {words.Have} not the network key",
        ReceiveStep.IvIndex => $"{words.They} {words.Are} at another IV index",
        ReceiveStep.Reach when view is { TtlNeeded: { } needed, TtlSent: { } sent } => $"out of reach: sent with TTL {sent}, the way to {words.Them} needs {needed}",
        ReceiveStep.Reach => $"out of reach: the lowest TTL heard was {view.LowestTtl}",
        ReceiveStep.MessageCache => $"taken for a copy of a message {words.They} had before (message cache)",
        ReceiveStep.Segments => "not all segments came together",
        ReceiveStep.ReplayProtection when view.SeqReceivedBefore is { } before => $"taken for a replay: SEQ {view.Seq} is not above {before}, which {words.They} had before",
        ReceiveStep.ReplayProtection => "taken for a replay (SEQ)",
        ReceiveStep.ReplayListSpace => $"{words.Their} replay protection list is full",
        ReceiveStep.AppKey => $"{words.They} {words.Have} not the application key",
        ReceiveStep.Model => $"{words.They} {words.Have} no model for such a message",
        ReceiveStep.Address => $"{words.They} {words.Do} not subscribe to this address",
        ReceiveStep.Binding => $"the application key is not bound to {words.Their} model",
        ReceiveStep.Transaction => "taken for a repetition of the press before (same TID)",
        _ => "something rejects it",
    };

    private static string Doubt(EyeView view, Words words) => view.Doubt switch
    {
        EyeDoubt.ConfigurationUnknown => $": {words.Their} keys, models, subscriptions or bindings are not known",
        EyeDoubt.ReachUnknown => $": nobody knows whether a copy came to {words.Them}",
        EyeDoubt.NoAnswerExpected => $": {words.They} would not have told",
        EyeDoubt.HeardTooLittle when view.MissChance is { } chance => $": the receiver may have missed {words.Their} answer (chance {Phrases.Percent(chance)})",
        EyeDoubt.HeardTooLittle => $": the receiver may have missed {words.Their} answer",
        _ => "",
    };

    private sealed record Words(string They, string Have, string Are, string Do, string Their, string Them);
}
