using MeshTrace.Protocol;

namespace MeshTrace.Reports.Words;

/// <summary>
/// Where every name and address of a result comes from. Who wants others in their place (a result that is handed on) gives another one here;
/// <see cref="InText"/> reaches those that stand within sentences made elsewhere.
/// </summary>
public interface INames
{
    /// <summary>A name alone, for a column: "Reading room", "all nodes", "0xC001".</summary>
    string Short(MeshAddress address);

    /// <summary>A name with its address, for a sentence: "Reading room (0xC001)".</summary>
    string Full(MeshAddress address);

    /// <summary>The address as it is to be shown.</summary>
    string Address(MeshAddress address);

    /// <summary>A text as it is to be shown: a finding's sentence, a file's or a key's name, a note, a device address, a UUID.</summary>
    string InText(string text);
}
