using MeshTrace.Protocol;
using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Reports.Records;
using MeshTrace.Reports.Words;

namespace MeshTrace.Screens;

/// <summary>
/// Words looked for: all of them have to be found, each in a name, an address, a message's name or other text. What a name says is looked up once
/// an address and once an opcode, so that a million rows are gone through quickly.
/// </summary>
internal sealed class Words(string text, INames? names, VendorCatalogue? vendor)
{
    private readonly string[] _words = text.Split(' ', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries);
    private readonly Dictionary<MeshAddress, uint> _byAddress = [];
    private readonly Dictionary<(bool, uint), uint> _byOpcode = [];

    private const int MostWords = 32;

    /// <summary>As typed.</summary>
    public string Text => text;
    public bool IsEmpty => _words.Length == 0;

    /// <summary>True if every word is in one of these.</summary>
    public bool AreIn(MeshAddress? src, MeshAddress? dst, (bool IsControl, Opcode Opcode)? message, params ReadOnlySpan<string?> texts)
    {
        uint found = 0, all = _words.Length >= MostWords ? uint.MaxValue : (1u << _words.Length) - 1;
        if (src is { } from)
            found |= In(from);
        if (dst is { } to)
            found |= In(to);
        if (found != all && message is { } opcode)
            found |= In(opcode);
        for (int i = 0; found != all && i < texts.Length; i++)
            if (texts[i] is { } other)
                found |= In(other);
        return found == all && all != 0;
    }

    private uint In(MeshAddress address)
    {
        if (!_byAddress.TryGetValue(address, out uint bits))
            _byAddress.Add(address, bits = In(names?.Full(address) ?? address.ToString()));
        return bits;
    }

    private uint In((bool IsControl, Opcode Opcode) message)
    {
        (bool, uint) key = (message.IsControl, message.Opcode.Value);
        if (!_byOpcode.TryGetValue(key, out uint bits))
            _byOpcode.Add(key, bits = In(MessageNames.Find(message.IsControl, message.Opcode, vendor) ?? message.Opcode.ToString()));
        return bits;
    }

    private uint In(string where)
    {
        uint bits = 0;
        for (int i = 0; i < _words.Length && i < MostWords; i++)
            if (where.Contains(_words[i], StringComparison.OrdinalIgnoreCase))
                bits |= 1u << i;
        return bits;
    }
}
