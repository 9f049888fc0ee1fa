using System.Text;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Text;

/// <summary>Finds the words in a log line that tell direction and kind: a table, whole words, upper or lower case.</summary>
internal static class LineMeaning
{
    private static readonly (string Word, LineDirection Direction)[] Directions =
    [
        ("write", LineDirection.Written), ("writing", LineDirection.Written), ("written", LineDirection.Written), ("wrote", LineDirection.Written), ("writes", LineDirection.Written),
        ("notify", LineDirection.Notified), ("notification", LineDirection.Notified), ("notified", LineDirection.Notified), ("notifying", LineDirection.Notified), ("ntf", LineDirection.Notified),
        ("sent", LineDirection.Sent), ("send", LineDirection.Sent), ("sending", LineDirection.Sent), ("sends", LineDirection.Sent), ("tx", LineDirection.Sent), ("outgoing", LineDirection.Sent), ("transmit", LineDirection.Sent),
        ("received", LineDirection.Received), ("receive", LineDirection.Received), ("receiving", LineDirection.Received), ("recv", LineDirection.Received), ("rcvd", LineDirection.Received), ("rx", LineDirection.Received), ("incoming", LineDirection.Received),
    ];

    private static readonly (string Word, LineWords Kind)[] Kinds =
    [
        ("proxy", LineWords.Proxy), ("network", LineWords.Network), ("net", LineWords.Network), ("nwk", LineWords.Network), ("provisioning", LineWords.Provisioning), ("provision", LineWords.Provisioning),
        ("prov", LineWords.Provisioning), ("beacon", LineWords.Beacon), ("access", LineWords.Access), ("upper", LineWords.UpperTransport),
        ("key", LineWords.Key), ("keys", LineWords.Key), ("netkey", LineWords.Key), ("appkey", LineWords.Key), ("devkey", LineWords.Key),
    ];

    private const int LongestWord = 16;

    public static (LineDirection Direction, LineWords Words) Find(ReadOnlySpan<byte> line)
    {
        LineDirection direction = LineDirection.Unknown;
        LineWords words = LineWords.None;
        bool isPublicKey = false;
        Span<byte> lower = stackalloc byte[LongestWord];
        for (int at = 0; at < line.Length;)
        {
            int start = at;
            while (at < line.Length && IsLetter(line[at]))
                at++;
            int length = at - start;
            if (length == 0)
            {
                if (direction == LineDirection.Unknown)
                    direction = ArrowAt(line[at..]);
                at++;
                continue;
            }
            if (length > LongestWord)
                continue;
            Ascii.ToLower(line.Slice(start, length), lower, out _);
            ReadOnlySpan<byte> word = lower[..length];
            isPublicKey |= word.SequenceEqual("public"u8);
            // Write and notification say more than sent and received, wherever they stand.
            foreach ((string known, LineDirection meant) in Directions)
                if (Ascii.Equals(word, known) && (direction == LineDirection.Unknown || meant >= LineDirection.Written && direction < LineDirection.Written))
                    direction = meant;
            foreach ((string known, LineWords meant) in Kinds)
                if (Ascii.Equals(word, known))
                    words |= meant;
        }
        // The Public Key of a provisioning is a PDU, and no secret.
        return (direction, isPublicKey ? words & ~LineWords.Key : words);
    }

    /// <summary>Two-character arrows, and those of Unicode (U+2190, U+2192, in UTF-8).</summary>
    private static LineDirection ArrowAt(ReadOnlySpan<byte> text) => text switch
    {
        [(byte)'-' or (byte)'=' or (byte)'>', (byte)'>', ..] or [0xE2, 0x86, 0x92, ..] => LineDirection.Sent,
        [(byte)'<', (byte)'-' or (byte)'=' or (byte)'<', ..] or [0xE2, 0x86, 0x90, ..] => LineDirection.Received,
        _ => LineDirection.Unknown,
    };

    private static bool IsLetter(byte octet) => (octet | 0x20) is >= (byte)'a' and <= (byte)'z';
}
