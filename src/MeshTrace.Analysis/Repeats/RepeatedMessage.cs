namespace MeshTrace.Analysis.Repeats;

/// <summary>Publish Retransmit (Mesh Protocol 1.1 §4.2.3).</summary>
/// <param name="Transmissions">1-8 messages, each with a new SEQ; the wire counts the retransmissions, one less.</param>
/// <param name="IntervalMs">50-1600 ms between them.</param>
public readonly record struct PublishRepeat(int Transmissions, int IntervalMs);

/// <summary>Who repeated a message.</summary>
public enum RepeatKind : byte
{
    /// <summary>Cannot be told from what was heard.</summary>
    Unclear,

    /// <summary>The model's publication: at the interval that is set, or evenly in steps of 50 ms.</summary>
    Publication,

    /// <summary>The application: the same transaction (TID) again, as after an answer that did not come.</summary>
    Transaction,
}

/// <summary>The same access payload from the same source to the same destination, sent several times with a new SEQ each.</summary>
/// <param name="Kind">Who repeated it.</param>
/// <param name="Messages">Rows of the messages heard, in order of time; two or more.</param>
/// <param name="GapsMs">From each to the next.</param>
public sealed record RepeatedMessage(RepeatKind Kind, IReadOnlyList<int> Messages, IReadOnlyList<double> GapsMs);
